import type { Sort } from '../state/chosen.ts'
import type { CardOpening } from '../state/house.ts'
import { isContested, LATER, PRESSING, type Row, worstDoubt } from '../state/row.ts'

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
  // Its contact calls it open.
  if (row.reading.against) return 1.5
  if (isContested(row.reading) && !(worst && PRESSING.includes(worst))) return 2 + PRESSING.length - 0.5
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

type Wish = readonly [sort: Sort, sides: readonly string[], lang: string]
type Rule = (a: Row, b: Row) => number
type Ranks = WeakMap<CardOpening, number>

/** Puts the rows of one card in order: of those of the last time only what is another now takes a new place. */
export class RowSorter {
  #last: { readonly wish: Wish; readonly rows: readonly Row[]; readonly inOrder: readonly Row[] } | undefined
  /** Places of the openings by mark: the same house is not collated twice. */
  #ranked: { readonly lang: string; readonly ranks: Ranks } | undefined

  sorted(rows: readonly Row[], ...wish: Wish): readonly Row[] {
    const last = this.#last
    const standing = last && wish.every((each, index) => each === last.wish[index]) ? last : { rows: [], inOrder: [] }
    if (standing.rows === rows) return standing.inOrder
    const fresh = rows.filter((row, index) => row !== standing.rows[index])
    const inOrder = [...standing.inOrder]
    for (const [index, row] of standing.rows.entries()) if (row !== rows[index]) inOrder.splice(inOrder.indexOf(row), 1)
    const rule = ruleOf(this.#ranksOf(fresh, rows, wish[2]), ...wish)
    if (inOrder.length === 0) inOrder.push(...fresh.sort(rule))
    else for (const row of fresh) inOrder.splice(placeIn(inOrder, row, rule), 0, row)
    this.#last = { wish, rows, inOrder }
    return inOrder
  }

  #ranksOf(fresh: readonly Row[], rows: readonly Row[], lang: string): Ranks {
    const ranked = this.#ranked
    if (ranked?.lang === lang && fresh.every(({ opening }) => ranked.ranks.has(opening))) return ranked.ranks
    const { compare } = collator(lang)
    const inOrder = rows.map(({ opening }) => opening).sort((a, b) => compare(a.mark, b.mark))
    const ranks: Ranks = new WeakMap(inOrder.map((opening, index) => [opening, index]))
    this.#ranked = { lang, ranks }
    return ranks
  }
}

function placeIn(inOrder: readonly Row[], row: Row, rule: Rule): number {
  let [low, high] = [0, inOrder.length]
  while (low < high) {
    const middle = (low + high) >> 1
    if (rule(inOrder[middle]!, row) < 0) low = middle + 1
    else high = middle
  }
  return low
}

function ruleOf(ranks: Ranks, sort: Sort, sides: readonly string[], lang: string): Rule {
  const { compare } = collator(lang)
  const byMark: Rule = (a, b) => (ranks.get(a.opening) ?? 0) - (ranks.get(b.opening) ?? 0)
  const side = (row: Row) => (row.opening.at ? sides.indexOf(row.opening.at.side) : sides.length)
  const rules: Record<Sort, Rule> = {
    urgency: (a, b) => urgency(a) - urgency(b) || bySince(a, b) || byMark(a, b),
    room: (a, b) => compare(a.opening.room ?? '\uffff', b.opening.room ?? '\uffff') || byMark(a, b),
    side: (a, b) => side(a) - side(b) || (a.opening.at?.floor ?? 0) - (b.opening.at?.floor ?? 0) || byMark(a, b),
    mark: byMark,
  }
  return rules[sort]
}
