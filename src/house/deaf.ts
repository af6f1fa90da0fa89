/** The times in which nobody listened, for the stories of a house: bounded, and kept over restarts. */
import { amount, map, mark, optional, some } from '../protocol/parts.ts'
import { sorted } from '../text/lists.ts'
import { DAY } from '../text/time.ts'

/** Milliseconds since the epoch. */
export type Span = readonly [from: number, to: number]

/** A time in which words may have gone unheard, and of which openings; absent: of all. */
export interface Deaf {
  readonly from: number
  readonly to: number
  readonly marks?: readonly string[]
}

/** What is shorter than any last will takes hides no opening: its rest word comes after it. */
const LEAST_MILLISECONDS = 5_000
/** Of a house: beyond that the two that are nearest each other become one, which says more was missed, never less. */
const MOST_SPANS = 150
/** Where more openings went unheard, all count as such. */
const MOST_MARKS = 40
/** What is older is in no story any more. */
const KEPT_MILLISECONDS = 430 * DAY

/** As a shell keeps them. */
export const deafSchema = some(
  map({ from: amount, to: amount, marks: optional(some(mark, MOST_MARKS)) }),
  2 * MOST_SPANS,
)

/** Adds a time in which nobody listened. @param of - marks of all openings of the house */
export function addDeaf(before: readonly Deaf[], { from, to, marks }: Deaf, of: number): readonly Deaf[] {
  if (!(to - from >= LEAST_MILLISECONDS)) return before
  const isAll = marks === undefined || marks.length >= of || marks.length > MOST_MARKS
  const added: Deaf = { from, to, ...(isAll ? {} : { marks }) }
  const groups = new Map<string, Deaf[]>()
  for (const deaf of [...before.filter(each => each.to > to - KEPT_MILLISECONDS), added]) {
    const key = deaf.marks?.join() ?? ''
    groups.set(key, [...(groups.get(key) ?? []), deaf])
  }
  return [...groups.values()].flatMap(group => united(group, Math.ceil(MOST_SPANS / groups.size)))
}

function united(spans: readonly Deaf[], most: number): readonly Deaf[] {
  const whole: Deaf[] = []
  for (const span of sorted(spans, (a, b) => a.from - b.from)) {
    const last = whole.at(-1)
    if (last && span.from <= last.to) whole[whole.length - 1] = { ...last, to: Math.max(last.to, span.to) }
    else whole.push(span)
  }
  while (whole.length > most) {
    const gaps = whole.slice(1).map((span, index) => span.from - whole[index]!.to)
    const index = gaps.indexOf(Math.min(...gaps))
    whole.splice(index, 2, { ...whole[index]!, to: whole[index + 1]!.to })
  }
  return whole
}

/**
 * When nobody listened to one opening, within a stretch of time: in order, without overlaps.
 * @param since - before that nobody did
 */
export function deafTo(mark: string, all: readonly Deaf[], since: number, [from, to]: Span): readonly Span[] {
  const mine = all.filter(({ marks }) => marks === undefined || marks.includes(mark))
  return united([{ from, to: since }, ...mine], Number.POSITIVE_INFINITY)
    .map((span): Span => [Math.max(from, span.from), Math.min(to, span.to)])
    .filter(([a, b]) => b > a)
}

/** How much of a stretch of time the spans take, milliseconds. */
export const lengthIn = (spans: readonly Span[], [from, to]: Span): number =>
  spans.reduce((sum, [a, b]) => sum + Math.max(0, Math.min(b, to) - Math.max(a, from)), 0)
