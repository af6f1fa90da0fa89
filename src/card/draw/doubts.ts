/** What is not certain of an opening, as an outline round it, and a cell that runs short, as a line under its sill. */
import type { Doubt } from '../../protocol/reading.ts'
import type { Kind } from '../../register/types.ts'
import { OUTLINE } from './measure.ts'
import { type Path, polyline, rectangle, round } from './shapes.ts'

/** Gravest first: the one that is outlined. A short cell or an old header takes no certainty: neither has an outline. */
export const DOUBTS_BY_WEIGHT = [
  'spent',
  'twin',
  'faint',
  'silent',
  'overdue',
  'untested',
] as const satisfies readonly Doubt[]

export const gravest = (doubts: readonly Doubt[]): Doubt | undefined =>
  DOUBTS_BY_WEIGHT.find(doubt => doubts.includes(doubt))

/** Outline of one doubt around a shape of this size; each has a line of its own. */
export function drawDoubt(doubt: Doubt, kind: Kind, width: number, height: number): readonly Path[] {
  const m = OUTLINE
  const bottom = kind === 'door' || kind === 'double-door' ? height + 1 : height + m - 1
  const left = -m
  const right = width + m
  const around = (by: number) => rectangle(left + by, -m + by, width + 2 * (m - by), bottom + m - 2 * by)
  switch (doubt) {
    case 'faint':
      return [{ pen: 'doubt-dash', d: around(0) }]
    case 'twin':
      return [{ pen: 'doubt-line', d: around(-1) + around(1.6) }]
    case 'overdue': {
      const mid = (bottom - m) / 2
      return [{ pen: 'doubt-dots', d: polyline([left, mid], [left, -m], [right, -m], [right, mid]) }]
    }
    case 'spent':
      return [{ pen: 'doubt-line', d: cloud(left, -m, right, bottom) }]
    case 'silent': {
      const a = Math.min(width, height) * 0.28
      const corner = (x: number, y: number, dx: number, dy: number) =>
        polyline([x + dx * a, y], [x, y], [x, y + dy * a])
      return [
        {
          pen: 'doubt-line',
          d:
            corner(left, -m, 1, 1) +
            corner(right, -m, -1, 1) +
            corner(right, bottom, -1, -1) +
            corner(left, bottom, 1, -1),
        },
      ]
    }
    default:
      return [{ pen: 'doubt-dots', d: around(0) }]
  }
}

/** Length along the edge that one bow of a revision cloud takes, at most. */
const BOW = 9

/** A revision cloud, as drawings have it round what is to be looked at again: bows along the four edges. */
function cloud(left: number, top: number, right: number, bottom: number): string {
  const across = Math.max(2, Math.ceil((right - left) / BOW))
  const down = Math.max(2, Math.ceil((bottom - top) / BOW))
  const [dx, dy] = [(right - left) / across, (bottom - top) / down]
  const bows = (count: number, x: number, y: number) => {
    const r = round(Math.hypot(x, y) * 0.56)
    return `a${r} ${r} 0 0 1 ${round(x)} ${round(y)}`.repeat(count)
  }
  return `M${round(left)} ${round(top)}${bows(across, dx, 0)}${bows(down, 0, dy)}${bows(across, -dx, 0)}${bows(down, 0, -dy)}Z`
}

const LINE = 4

/** A line under the sill that fills as the cell is spent. @param share - 0 to 1, 1 is empty */
export const drawSpent = (share: number, width: number, height: number): readonly Path[] => [
  { pen: 'glass', d: rectangle(0, height + 1, width, LINE) },
  { pen: 'solid', d: rectangle(0, height + 1, width * Math.min(1, Math.max(0, share)), LINE) },
  { pen: 'fine', d: rectangle(0, height + 1, width, LINE) },
]
