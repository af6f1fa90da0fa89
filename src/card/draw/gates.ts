/**
 * The sends of a cell as five-bar gates: four uprights and a stroke across them.
 * Height and weight tell the certainty, not the colour: sent (heavy, full height), still sure (to the 5 % limit),
 * expected (to the median), perhaps (to the 95 % limit, half height).
 */
import { wholeRange } from '../../budget/lives/whole-range.ts'
import { merge, type Path, type Pen, polyline, type Text } from './shapes.ts'

export interface GateFacts {
  /** Sends of the present cell. */
  readonly sends: number
  /** Sends left: limits and median; absent on mains or without a forecast. */
  readonly left?: { readonly p05: number; readonly p50: number; readonly p95: number } | undefined
}

export interface Gates {
  readonly width: number
  readonly height: number
  readonly shapes: readonly (Path | Text)[]
  /** Sends that one stroke stands for: 1, or more where the cell's openings run to hundreds. */
  readonly perStroke: number
  readonly strokes: { readonly sent: number; readonly sure: number; readonly expected: number; readonly beyond: number }
}

const PITCH = 5
const GATE = 4 * PITCH + 9
const STEPS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]
/** Room for the words "1 = 10" in front, where strokes stand for more than one. */
const SCALE_ROOM = 46

const strokesWidth = (strokes: number) => Math.floor(strokes / 5) * GATE + Math.min(strokes % 5, 4) * PITCH

/**
 * @param width - pixels at hand; strokes are grouped (each for 2, 5, 10 ... sends) until they fit
 * @throws RangeError when sends or a limit is negative or not finite
 */
export function layoutGates({ sends, left }: GateFacts, width: number, height = 18): Gates {
  const limits = [sends, left?.p05 ?? 0, left?.p50 ?? 0, left?.p95 ?? 0]
  for (const value of limits)
    if (!Number.isFinite(value) || value < 0)
      throw new RangeError(`sends or a limit is ${value}: needs a number of 0 or more`)
  const ends = [sends, sends + (left?.p05 ?? 0), sends + (left?.p50 ?? 0), sends + (left?.p95 ?? 0)]
  const total = Math.max(...ends)
  const perStroke =
    STEPS.find(step => strokesWidth(Math.ceil(total / step)) <= width - (step > 1 ? SCALE_ROOM : 0)) ??
    Math.ceil(total / 5)
  // any send at all shows as a stroke
  const counts = ends.map((end, i) => (i === 0 ? Math.ceil(end / perStroke) : Math.round(end / perStroke)))
  const sent = counts[0]!
  const sure = Math.max(sent, counts[1]!)
  const expected = Math.max(sure, counts[2]!)
  const beyond = Math.max(expected, counts[3]!)
  const start = perStroke > 1 ? SCALE_ROOM : 1
  const penAt = (i: number): Pen => (i < sent ? 'sent' : i < sure ? 'sure' : i < expected ? 'expected' : 'beyond')
  const reach = { sent: 1, sure: 1, expected: 0.72, beyond: 0.45 }
  const paths: Path[] = []
  for (let i = 0; i < beyond; i++) {
    const pen = penAt(i)
    const tall = (height - 2) * reach[pen as keyof typeof reach]
    const bottom = height - 1
    const x = start + Math.floor(i / 5) * GATE + (i % 5) * PITCH
    if (i % 5 < 4) paths.push({ pen, d: polyline([x, bottom], [x, bottom - tall]) })
    else
      paths.push({
        pen,
        d: polyline([x - 4 * PITCH - 2.5, bottom - tall * 0.22], [x - PITCH + 2.5, bottom - tall * 0.8]),
      })
  }
  const text: Text[] =
    perStroke > 1 ? [{ letter: 'small', x: 0, y: height / 2 + 4.5, text: `1 = ${perStroke}`, anchor: 'start' }] : []
  return {
    width: start + strokesWidth(beyond) + 2,
    height,
    shapes: [...merge(paths), ...text],
    perStroke,
    strokes: { sent, sure: sure - sent, expected: expected - sure, beyond: beyond - expected },
  }
}

/** What the gates say, as words: `{sends}`, `{p05}`, `{p50}`, `{p95}` are filled with numbers as they are shown elsewhere. */
export const GATE_WORDS = {
  both: '{sends} sent, about {p50} left, {p05} to {p95}',
  sent: '{sends} sent, no forecast',
} as const
export type GateWords = { readonly [key in keyof typeof GATE_WORDS]: string }

const formats = new Map<string, Intl.NumberFormat>()

/** Building one takes longer than all the rest of a label. */
function formatOf(locale: string): Intl.NumberFormat {
  const format = formats.get(locale) ?? new Intl.NumberFormat(locale, { maximumFractionDigits: 0 })
  formats.set(locale, format)
  return format
}

export function gatesLabel({ sends, left }: GateFacts, words: GateWords = GATE_WORDS, locale = 'en'): string {
  const { low, middle, high } = wholeRange(left ?? { p05: 0, p50: 0, p95: 0 })
  const values: Record<string, number> = { sends, p05: low, p50: middle, p95: high }
  return (left ? words.both : words.sent).replace(/\{(\w+)\}/g, (all, name: string) => {
    const value = values[name]
    return value === undefined ? all : formatOf(locale).format(value)
  })
}
