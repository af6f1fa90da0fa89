import type { Doubt } from '../ledger/types.ts'
import type { CardOpening, Row } from './model.ts'

export const SORTS = ['urgency', 'room', 'side', 'mark'] as const
export type Sort = (typeof SORTS)[number]

/** How a row is coloured and tagged: by what most needs a look. */
export type Tone = 'open' | 'unseen' | 'doubt' | 'quiet'

const PRESSING: readonly Doubt[] = ['spent', 'silent', 'faint', 'twin', 'untested']
const LATER: readonly Doubt[] = ['low', 'reflash']

export function toneOf({ reading }: Row): Tone {
  if (reading.position === 'open') return 'open'
  if (reading.position === 'opened') return 'unseen'
  return reading.doubts.length > 0 || reading.unheard !== undefined ? 'doubt' : 'quiet'
}

/** The doubt that is spoken of first. */
export function worstDoubt({ reading }: Row): Doubt | undefined {
  return [...PRESSING, ...LATER].find(doubt => reading.doubts.includes(doubt))
}

const urgencies = new WeakMap<Row, number>()

/** 0 needs a look first. */
function urgency(row: Row): number {
  let known = urgencies.get(row)
  if (known === undefined) {
    known = urgencyOf(row)
    urgencies.set(row, known)
  }
  return known
}

function urgencyOf(row: Row): number {
  const { position } = row.reading
  if (position === 'open') return 0
  if (position === 'opened') return 1
  const worst = worstDoubt(row)
  const isUnheard = row.reading.unheard !== undefined
  if (isUnheard && !(worst && PRESSING.includes(worst))) return 2 + PRESSING.length - 0.5
  if (worst) return 2 + [...PRESSING, ...LATER].indexOf(worst)
  return position === 'no-word' ? 20 : position === 'taken-closed' ? 21 : 22
}

const collators = new Map<string, Intl.Collator>()
function collator(lang: string): Intl.Collator {
  let found = collators.get(lang)
  if (!found) {
    found = new Intl.Collator(lang, { numeric: true })
    collators.set(lang, found)
  }
  return found
}

/** The longest open first; of those that opened and were not seen shut, the newest. */
function bySince(a: Row, b: Row): number {
  const [from, to] = [a.reading.since ?? '', b.reading.since ?? '']
  if (from === to) return 0
  return from < to === (a.reading.position === 'open') ? -1 : 1
}

let ranked: { readonly lang: string; readonly ranks: WeakMap<CardOpening, number> } | undefined

/** Places of the openings by mark: the same house is not collated twice. */
function ranksOf(rows: readonly Row[], lang: string): WeakMap<CardOpening, number> {
  if (ranked?.lang !== lang || rows.some(({ opening }) => !ranked?.ranks.has(opening))) {
    const { compare } = collator(lang)
    const inOrder = rows.map(({ opening }) => opening).sort((a, b) => compare(a.mark, b.mark))
    ranked = { lang, ranks: new WeakMap(inOrder.map((opening, index) => [opening, index])) }
  }
  return ranked.ranks
}

let last: { readonly given: readonly unknown[]; readonly rows: readonly Row[] } | undefined

/** As `sortRows`; the same rows in the same order of wishes are not sorted twice. */
export function sorted(...given: Parameters<typeof sortRows>): readonly Row[] {
  if (!last || last.given.some((each, index) => each !== given[index])) last = { given, rows: sortRows(...given) }
  return last.rows
}

function sortRows(rows: readonly Row[], sort: Sort, sides: readonly string[], lang: string): readonly Row[] {
  const { compare } = collator(lang)
  const ranks = ranksOf(rows, lang)
  const byMark = (a: Row, b: Row) => (ranks.get(a.opening) ?? 0) - (ranks.get(b.opening) ?? 0)
  const side = (row: Row) => (row.opening.at ? sides.indexOf(row.opening.at.side) : sides.length)
  const rules: Record<Sort, (a: Row, b: Row) => number> = {
    urgency: (a, b) => urgency(a) - urgency(b) || bySince(a, b) || byMark(a, b),
    room: (a, b) => compare(a.opening.room ?? '\uffff', b.opening.room ?? '\uffff') || byMark(a, b),
    side: (a, b) => side(a) - side(b) || (a.opening.at?.floor ?? 0) - (b.opening.at?.floor ?? 0) || byMark(a, b),
    mark: byMark,
  }
  return [...rows].sort(rules[sort])
}

/** Rows in which every typed word occurs in mark, name, room or side. */
export function matching(rows: readonly Row[], typed: string, lang: string): readonly Row[] {
  const words = typed.toLocaleLowerCase(lang).split(/\s+/).filter(Boolean)
  if (words.length === 0) return rows
  return rows.filter(({ opening }) => {
    const text = [opening.mark, opening.name, opening.room, opening.at?.side].join(' ').toLocaleLowerCase(lang)
    return words.every(word => text.includes(word))
  })
}
