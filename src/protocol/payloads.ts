/**
 * Payloads of the tally's topics from text that anybody may have published.
 * Nothing here throws; unknown fields are dropped, long text is cut, anything that does not fit is refused whole.
 */
import { DOUBTS, type Doubt, HOWS, POSITIONS, type Policy, type Reading, WHATS } from '../ledger/types.ts'
import {
  type HeardNote,
  type KeeperNote,
  MARK,
  type ReadingNote,
  type RegisterNote,
  type RegisterNoteOpening,
} from './topics.ts'

/** Longest payload, in UTF-16 code units: of the register, and of every other topic. */
export const LONGEST = { register: 4_000_000, other: 16_384 } as const
/** Longest text of one field, in UTF-16 code units. */
export const LONGEST_TEXT = 400
const MOST_OPENINGS = 5_000
const MOST_NAMES = 64

export type Bag = Readonly<Record<string, unknown>>
export const bagOf = (value: unknown): Bag | undefined =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Bag) : undefined

function parse(text: string, longest: number): Bag | undefined {
  if (text.length > longest) return undefined
  try {
    const bag = bagOf(JSON.parse(text))
    return bag?.v === 1 ? bag : undefined
  } catch {
    return undefined
  }
}

/** Cut so that no half of a surrogate pair is left. */
export const cut = (text: string): string => text.slice(0, LONGEST_TEXT).replace(/[\uD800-\uDBFF]$/, '')
export const words = (value: unknown): string | undefined => (typeof value === 'string' ? cut(value) : undefined)
export const number = (value: unknown): number | undefined =>
  typeof value === 'number' && Number.isFinite(value) && value >= 0 ? value : undefined
const count = (value: unknown): number | undefined => (Number.isSafeInteger(value) ? number(value) : undefined)
export const oneOf = <const T extends string>(all: readonly T[], value: unknown): T | undefined =>
  all.find(each => each === value)
const mark = (value: unknown): string | undefined => (typeof value === 'string' && MARK.test(value) ? value : undefined)

/** ISO 8601 UTC with milliseconds of a day that exists; undefined otherwise. */
function time(value: unknown): string | undefined {
  if (typeof value !== 'string' || value.length !== 24) return undefined
  const at = Date.parse(value)
  return Number.isFinite(at) && new Date(at).toISOString() === value ? value : undefined
}

/** An object of the fields that are known; an unknown one is absent. */
export function fields<T extends object>(values: { [K in keyof T]: T[K] | undefined }): T {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as T
}

function leftOf(value: unknown): Reading['left'] {
  const bag = bagOf(value)
  const rests = bagOf(bag?.restsOn)
  if (!bag || !rests) return undefined
  const [p05, p50, p95, next] = [number(bag.p05), number(bag.p50), number(bag.p95), number(bag.next)]
  const [source, cells, deaths] = [oneOf(['practice', 'house'], rests.source), count(rests.cells), count(rests.deaths)]
  if (p05 === undefined || p50 === undefined || p95 === undefined || next === undefined || next > 1) return undefined
  if (source === undefined || cells === undefined || deaths === undefined) return undefined
  const isTrue = (value: unknown): true | undefined => (value === true ? true : undefined)
  return fields<NonNullable<Reading['left']>>({
    p05,
    p50,
    p95,
    next,
    restsOn: fields({ source, assumed: isTrue(rests.assumed), cells, deaths }),
    ifRunning: isTrue(bag.ifRunning),
    atLeast: isTrue(bag.atLeast),
    sentBefore: isTrue(bag.sentBefore),
    slowJoin: slowJoinOf(bag.slowJoin),
  })
}

function slowJoinOf(value: unknown): NonNullable<Reading['left']>['slowJoin'] {
  const bag = bagOf(value)
  const [ratio, words] = [number(bag?.ratio), count(bag?.words)]
  return ratio === undefined || words === undefined ? undefined : { ratio, words }
}

function lastOf(value: unknown): Reading['last'] {
  const bag = bagOf(value)
  const [at, word, how] = [time(bag?.at), oneOf(WHATS, bag?.word), oneOf(HOWS, bag?.how)]
  if (!at || !word || !how) return undefined
  return fields<NonNullable<Reading['last']>>({ at, until: time(bag?.until), word, how })
}

function oddOf(value: unknown): Reading['odd'] {
  const bag = bagOf(value)
  const [many, text, at] = [count(bag?.count), words(bag?.text), time(bag?.at)]
  return many === undefined || text === undefined || !at ? undefined : { count: many, text, at }
}

/** A reading from `opening/<mark>`; undefined when what must be there is not, or does not fit. */
export function parseReading(text: string): ReadingNote | undefined {
  const bag = parse(text, LONGEST.other)
  if (!bag || !Array.isArray(bag.doubts)) return undefined
  const doubts = bag.doubts.slice(0, 32).flatMap(each => oneOf<Doubt>(DOUBTS, each) ?? [])
  const [whose, position, asOf] = [mark(bag.mark), oneOf(POSITIONS, bag.position), time(bag.asOf)]
  const [openings, sends] = [count(bag.openings), count(bag.sends)]
  if (!whose || !position || !asOf || openings === undefined || sends === undefined) return undefined
  return fields<ReadingNote>({
    v: 1,
    mark: whose,
    name: words(bag.name) ?? whose,
    position,
    since: time(bag.since),
    doubts: [...new Set(doubts)],
    last: lastOf(bag.last),
    openings,
    sends,
    countedSince: time(bag.countedSince),
    left: leftOf(bag.left),
    asOf,
    provenAt: time(bag.provenAt),
    twinWith: mark(bag.twinWith),
    unheard: time(bag.unheard),
    seen: bag.seen === true ? true : undefined,
    against: bag.against === true ? true : undefined,
    odd: oddOf(bag.odd),
  })
}

/** The keeper's state from `keeper`; undefined when it does not fit. */
export function parseKeeper(text: string): KeeperNote | undefined {
  const bag = parse(text, LONGEST.other)
  const [state, beat, since] = [oneOf(['live', 'gone', 'broken'], bag?.state), time(bag?.beat), time(bag?.since)]
  if (!state || !beat || !since) return undefined
  return fields<KeeperNote>({ v: 1, state, beat, since, problem: words(bag?.problem) })
}

/** The keeper's answer from `heard/<id>`; undefined when it does not fit. */
export function parseHeard(text: string): HeardNote | undefined {
  const bag = parse(text, LONGEST.other)
  if (typeof bag?.ok !== 'boolean') return undefined
  return fields<HeardNote>({ v: 1, ok: bag.ok, problem: words(bag.problem) })
}

function policyOf(value: unknown): Policy | undefined {
  const bag = bagOf(value)
  if (!bag) return undefined
  const [reports, power] = [oneOf(['openings', 'both'], bag.reports), oneOf(['cell', 'mains'], bag.power)]
  const [keepAliveSeconds, bootSeconds, bounceSeconds, provenWithinDays, replaceBelow] = [
    number(bag.keepAliveSeconds),
    number(bag.bootSeconds),
    number(bag.bounceSeconds),
    number(bag.provenWithinDays),
    number(bag.replaceBelow),
  ]
  if (!reports || !power || keepAliveSeconds === undefined || bootSeconds === undefined) return undefined
  if (bounceSeconds === undefined || provenWithinDays === undefined || replaceBelow === undefined) return undefined
  const was = Array.isArray(bag.was) ? bag.was.slice(0, MOST_NAMES).flatMap(each => mark(each) ?? []) : undefined
  return fields<Policy>({
    reports,
    power,
    keepAliveSeconds,
    bootSeconds,
    bounceSeconds,
    repeatSeconds: number(bag.repeatSeconds),
    provenWithinDays,
    takeAsClosedAfterMinutes: number(bag.takeAsClosedAfterMinutes) ?? null,
    replaceBelow,
    cellFitted: words(bag.cellFitted),
    cell: words(bag.cell),
    revision: words(bag.revision),
    modelSends: number(bag.modelSends),
    was,
  })
}

function openingOf(value: unknown): RegisterNoteOpening | undefined {
  const bag = bagOf(value)
  const [whose, reports, policy] = [mark(bag?.mark), oneOf(['openings', 'both'], bag?.reports), policyOf(bag?.policy)]
  if (!bag || !whose || !reports || !policy) return undefined
  const place = bagOf(bag.at)
  const [side, floor, along] = [words(place?.side), count(place?.floor), number(place?.along)]
  const at =
    side !== undefined && floor !== undefined
      ? fields<NonNullable<RegisterNoteOpening['at']>>({ side, floor, along })
      : undefined
  return fields<RegisterNoteOpening>({
    mark: whose,
    name: words(bag.name) ?? whose,
    room: words(bag.room),
    kind: words(bag.kind) ?? 'window',
    at,
    reports,
    cell: words(bag.cell),
    policy,
  })
}

/** The house from `register`; undefined when it, or any one of its openings, does not fit or a mark comes twice. */
export function parseRegisterNote(text: string): RegisterNote | undefined {
  const bag = parse(text, LONGEST.register)
  if (!bag || !Array.isArray(bag.openings) || bag.openings.length > MOST_OPENINGS) return undefined
  const openings = bag.openings.flatMap(each => openingOf(each) ?? [])
  const marks = new Set(openings.map(each => each.mark.toUpperCase()))
  if (openings.length !== bag.openings.length || marks.size !== openings.length) return undefined
  const [house, timezone, floors] = [words(bag.house), words(bag.timezone), count(bag.floors)]
  if (house === undefined || timezone === undefined) return undefined
  const sides = Array.isArray(bag.sides) ? bag.sides.slice(0, MOST_NAMES).flatMap(each => words(each) ?? []) : []
  return {
    v: 1,
    house,
    timezone,
    sides,
    floors: Math.min(floors ?? 1, 200),
    roof: words(bag.roof) ?? 'gable',
    openings,
  }
}
