/** Sides of a house as stretches: what is drawn as one elevation. A side too long for the sheet is cut at match lines. */
import type { Kind } from '../../register/types.ts'
import { sorted } from '../../text/lists.ts'
import { LETTERS, shorten, slotWidth, tagWidth } from './measure.ts'
import type { House } from './plan.ts'
import { wishedPlaces } from './spacing.ts'

export interface FloorItem {
  readonly mark: string
  readonly kind: Kind
  /** Wished centre, 0 to 1 of the stretch. */
  readonly wish: number
  /** Width of its tag at each length of `LETTERS`, pixels: measured once, not at every size that is tried. */
  readonly tags: readonly number[]
}
export interface FloorRow {
  readonly floor: number
  readonly inRoof: boolean
  /** From left to right. */
  readonly items: readonly FloorItem[]
}
/** A whole side. */
export interface Side {
  readonly side: string
  readonly index: number
  readonly form: 'long' | 'end'
  readonly rows: readonly FloorRow[]
}
/** A side, or a part of one; its rows stand from the roof down. */
export interface Stretch extends Side {
  readonly part: number
  readonly parts: number
}

/** Names that face each other; a house whose first side has its opposite elsewhere in the list is drawn by them. */
const OPPOSITES = [
  ['south', 'north'],
  ['east', 'west'],
  ['front', 'back'],
  ['left', 'right'],
  ['süd', 'nord'],
  ['ost', 'west'],
  ['vorne', 'hinten'],
  ['links', 'rechts'],
]

/** Eaves or end for each side: the first side shows the eaves, and so does the one opposite; else they alternate. */
export function sideForms(sides: readonly string[]): readonly ('long' | 'end')[] {
  const first = sides[0]?.toLowerCase()
  const facing = OPPOSITES.filter(names => names.includes(first ?? '')).flat()
  const opposite = sides.findIndex(side => side.toLowerCase() !== first && facing.includes(side.toLowerCase()))
  if (opposite > 0 && sides.length <= 4) return sides.map((_, i) => (i === 0 || i === opposite ? 'long' : 'end'))
  return sides.map((_, i) => (i % 2 === 0 ? 'long' : 'end'))
}

/** A hatch on the top floor lies in the slope where one is seen, else in the wall. */
const liesInRoof = (house: House, kind: Kind, floor: number, form: 'long' | 'end') =>
  kind === 'hatch' && form === 'long' && house.roof !== 'flat' && floor > 0 && floor >= house.floors - 1

/** The sides that have openings. */
export function sidesOf(house: House): readonly Side[] {
  const forms = sideForms(house.sides)
  return house.sides.flatMap((side, index) => {
    const form = forms[index]!
    const rows = rowsOf(house, side, form)
    return rows.length > 0 ? [{ side, index, form, rows }] : []
  })
}

/** Rows of one side, openings in order of their places; equal places keep the order of the register. */
function rowsOf(house: House, side: string, form: 'long' | 'end'): readonly FloorRow[] {
  const byRow = new Map<string, { floor: number; inRoof: boolean; openings: House['openings'][number][] }>()
  for (const opening of house.openings) {
    if (opening.at?.side !== side) continue
    const { floor } = opening.at
    const inRoof = liesInRoof(house, opening.kind, floor, form)
    const key = inRoof ? 'roof' : String(floor)
    const row = byRow.get(key) ?? { floor, inRoof, openings: [] }
    row.openings.push(opening)
    byRow.set(key, row)
  }
  return [...byRow.values()].map(({ floor, inRoof, openings }) => {
    const wishes = wishedPlaces(openings.map(({ at }) => at?.along))
    const items = openings.map(({ mark, kind }, i) => ({
      mark,
      kind,
      wish: wishes[i]!,
      tags: LETTERS.map(letters => tagWidth(shorten(mark, letters))),
    }))
    return { floor, inRoof, items: sorted(items, (a, b) => a.wish - b.wish) }
  })
}

/**
 * Width that the fullest row needs.
 * @param letters - index into `LETTERS`
 * @param inset - what a slope takes off a row in the roof at both ends together
 */
export const neededWidth = (rows: readonly FloorRow[], unit: number, letters: number, inset: number) =>
  Math.max(
    0,
    ...rows.map(({ items, inRoof }) =>
      items.reduce((sum, { kind, tags }) => sum + slotWidth(kind, tags[letters]!, unit), inRoof ? inset : 0),
    ),
  )

/** The stretches of one side, each of which fits (a single opening always does). */
export function cut(whole: Side, fits: (rows: readonly FloorRow[]) => boolean): readonly Stretch[] {
  const { rows } = whole
  if (fits(rows)) return [{ ...whole, part: 0, parts: 1, rows: fromTheTop(rows) }]
  const queue = sorted(
    rows.flatMap(row => row.items.map((item, order) => ({ row, item, order }))),
    (a, b) => a.item.wish - b.item.wish || a.order - b.order,
  )
  const greedy = divide(queue, queue.length, fits)
  const even = divide(queue, Math.ceil(queue.length / greedy.length), fits)
  const pieces = even.length === greedy.length ? even : greedy
  return pieces.map((entries, part) => {
    const before = pieces[part - 1]?.at(-1)?.item.wish
    const after = pieces[part + 1]?.[0]?.item.wish
    const from = before === undefined ? 0 : (before + entries[0]!.item.wish) / 2
    const to = after === undefined ? 1 : (after + entries.at(-1)!.item.wish) / 2
    const form = pieces.length > 1 ? 'long' : whole.form
    return { ...whole, form, part, parts: pieces.length, rows: regroup(entries, from, to) }
  })
}

interface Queued {
  readonly row: FloorRow
  readonly item: FloorItem
}

/** Pieces from left to right, each as long as it fits and at most `most` openings. */
function divide(
  queue: readonly Queued[],
  most: number,
  fits: (rows: readonly FloorRow[]) => boolean,
): readonly (readonly Queued[])[] {
  const pieces: Queued[][] = []
  let piece: Queued[] = []
  for (const entry of queue) {
    if (piece.length > 0 && (piece.length >= most || !fits(regroup([...piece, entry], 0, 1)))) {
      pieces.push(piece)
      piece = []
    }
    piece.push(entry)
  }
  pieces.push(piece)
  return pieces
}

function regroup(entries: readonly Queued[], from: number, to: number): readonly FloorRow[] {
  const groups = new Map<FloorRow, FloorItem[]>()
  for (const { row, item } of entries) {
    const wish = to > from ? (item.wish - from) / (to - from) : 0.5
    groups.set(row, [...(groups.get(row) ?? []), { ...item, wish }])
  }
  return fromTheTop([...groups].map(([{ floor, inRoof }, items]) => ({ floor, inRoof, items })))
}

const fromTheTop = (rows: readonly FloorRow[]) =>
  sorted(rows, (a, b) => Number(b.inRoof) - Number(a.inRoof) || b.floor - a.floor)
