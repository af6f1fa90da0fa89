/** The times in which nobody listened, for the stories of a house: bounded, and kept over restarts. */
import { amount, map, mark, optional, some } from '../protocol/parts.ts'
import { sorted } from '../text/lists.ts'
import { parseJson } from '../text/parse-json.ts'
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
/** Of a house: beyond that the two of one set that are nearest each other become one: more was missed, never less. */
const MOST_SPANS = 150
/** Different sets of marks: what is told of older sets counts for all openings. */
const MOST_SETS = 30
/** Where more openings went unheard, all count as such. */
const MOST_MARKS = 40
/** What is older is in no story any more. */
const KEPT_MILLISECONDS = 430 * DAY

const deafSchema = some(map({ from: amount, to: amount, marks: optional(some(mark, MOST_MARKS)) }), 2 * MOST_SPANS)

/** As a shell kept them; undefined where any part of it does not fit: less than was missed is never told. */
export const parseDeaf = (text: string): readonly Deaf[] | undefined => deafSchema.safeParse(parseJson(text)).data

/** Where it was not kept when nobody listened: a house that counted something may have gone unheard until then. */
export const unknownUntil = (until: number, counted: number): readonly Deaf[] =>
  counted === 0 ? [] : [{ from: 0, to: until }]

const setOf = ({ marks }: Deaf): string => marks?.join() ?? ''

/** Adds a time in which nobody listened. @param of - marks of all openings of the house */
export function addDeaf(before: readonly Deaf[], { from, to, marks }: Deaf, of: number): readonly Deaf[] {
  if (!(to - from >= LEAST_MILLISECONDS)) return before
  const isAll = marks === undefined || marks.length >= of || marks.length > MOST_MARKS
  const added: Deaf = { from, to, ...(isAll ? {} : { marks }) }
  const all = [...before.filter(each => each.to > to - KEPT_MILLISECONDS), added]
  const sets = [...new Set(sorted(all, (a, b) => b.to - a.to).map(setOf))].slice(0, MOST_SETS)
  const groups = new Map<string, Deaf[]>()
  for (const each of all) {
    const deaf = sets.includes(setOf(each)) ? each : { from: each.from, to: each.to }
    groups.set(setOf(deaf), [...(groups.get(setOf(deaf)) ?? []), deaf])
  }
  return bounded([...groups.values()].flatMap(united))
}

function united(spans: readonly Deaf[]): readonly Deaf[] {
  const whole: Deaf[] = []
  for (const span of sorted(spans, (a, b) => a.from - b.from)) {
    const last = whole.at(-1)
    if (last && span.from <= last.to) whole[whole.length - 1] = { ...last, to: Math.max(last.to, span.to) }
    else whole.push(span)
  }
  return whole
}

function bounded(spans: Deaf[]): readonly Deaf[] {
  while (spans.length > MOST_SPANS) {
    const gaps = spans
      .slice(1)
      .map((span, index) =>
        setOf(span) === setOf(spans[index]!) ? span.from - spans[index]!.to : Number.POSITIVE_INFINITY,
      )
    const index = gaps.indexOf(Math.min(...gaps))
    spans.splice(index, 2, { ...spans[index]!, to: spans[index + 1]!.to })
  }
  return spans
}

/**
 * When nobody listened to one opening, within a stretch of time: in order, without overlaps.
 * @param since - before that nobody did
 */
export function deafTo(mark: string, all: readonly Deaf[], since: number, [from, to]: Span): readonly Span[] {
  const mine = all.filter(({ marks }) => marks === undefined || marks.includes(mark))
  return united([{ from, to: since }, ...mine])
    .map((span): Span => [Math.max(from, span.from), Math.min(to, span.to)])
    .filter(([a, b]) => b > a)
}

/** How much of a stretch of time the spans take, milliseconds. */
export const lengthIn = (spans: readonly Span[], [from, to]: Span): number =>
  spans.reduce((sum, [a, b]) => sum + Math.max(0, Math.min(b, to) - Math.max(a, from)), 0)
