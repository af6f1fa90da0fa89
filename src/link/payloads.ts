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
  SAY_ID,
  SAYABLE,
  type Say,
} from './topics.ts'

/** Longest payload, in UTF-16 code units: of the register, and of every other topic. */
export const LONGEST = { register: 4_000_000, other: 16_384 } as const
/** Longest text of one field, in UTF-16 code units. */
export const LONGEST_TEXT = 400
const MOST_OPENINGS = 5_000
const MOST_NAMES = 64

type Bag = Readonly<Record<string, unknown>>
const bagOf = (value: unknown): Bag | undefined =>
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
const cut = (text: string): string => text.slice(0, LONGEST_TEXT).replace(/[\uD800-\uDBFF]$/, '')
const words = (value: unknown): string | undefined => (typeof value === 'string' ? cut(value) : undefined)
const number = (value: unknown): number | undefined =>
  typeof value === 'number' && Number.isFinite(value) && value >= 0 ? value : undefined
const count = (value: unknown): number | undefined => (Number.isSafeInteger(value) ? number(value) : undefined)
const oneOf = <const T extends string>(all: readonly T[], value: unknown): T | undefined =>
  all.find(each => each === value)
const mark = (value: unknown): string | undefined => (typeof value === 'string' && MARK.test(value) ? value : undefined)

/** ISO 8601 UTC with milliseconds of a day that exists; undefined otherwise. */
function time(value: unknown): string | undefined {
  if (typeof value !== 'string' || value.length !== 24) return undefined
  const at = Date.parse(value)
  return Number.isFinite(at) && new Date(at).toISOString() === value ? value : undefined
}

/** An object of the fields that are known; an unknown one is absent. */
function fields<T extends object>(values: { [K in keyof T]: T[K] | undefined }): T {
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
  return { p05, p50, p95, next, restsOn: { source, cells, deaths } }
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

const SAID_AT = /^(\d{4})-(\d\d)-(\d\d)T\d\d:\d\d(:\d\d(\.\d{1,9})?)?(Z|[+-]\d\d:\d\d)$/

/** Any ISO 8601 date and time with a zone, as UTC with milliseconds. */
function saidAt(text: string): string | undefined {
  const [, year, month, day] = SAID_AT.exec(text) ?? []
  const at = Date.parse(text)
  if (!day || !Number.isFinite(at)) return undefined
  if (new Date(Date.UTC(Number(year), Number(month) - 1, Number(day))).getUTCDate() !== Number(day)) return undefined
  return new Date(at).toISOString()
}

/** A say, or why it is none; `id` where it could be read, so that it can be answered. */
export type ParsedSay = { readonly say: Say } | { readonly problem: string; readonly id?: string }

/**
 * What a person says, from `say/<mark>`. Whether `at` lies in the future and whether `undoes` names
 * an entry is for the keeper to judge.
 */
export function parseSay(text: string): ParsedSay {
  if (text.length > LONGEST.other)
    return { problem: `a say is at most ${LONGEST.other} characters; this one has ${text.length}` }
  let json: unknown
  try {
    json = JSON.parse(text)
  } catch {
    return { problem: 'a say is JSON; this text is not' }
  }
  const bag = bagOf(json)
  if (!bag) return { problem: 'a say is a JSON object, such as { "v": 1, "id": "a1", "what": "seen-closed" }' }
  if (typeof bag.id !== 'string' || !SAY_ID.test(bag.id))
    return { problem: 'id must be 1 to 36 of the letters A-Z and a-z, digits and -' }
  const { id } = bag
  const no = (problem: string) => ({ problem, id })
  if (bag.v !== 1) return no(`v must be 1, found ${show(bag.v)}`)
  const what = oneOf(SAYABLE, bag.what)
  if (!what) return no(`what must be one of ${SAYABLE.join(', ')}; found ${show(bag.what)}`)
  for (const key of ['at', 'by', 'note', 'undoes', 'revision'] as const) {
    const value = bag[key]
    if (value === undefined) continue
    if (typeof value !== 'string') return no(`${key} must be text, found ${show(value)}`)
    if (value.length > LONGEST_TEXT)
      return no(`${key} is at most ${LONGEST_TEXT} characters; this one has ${value.length}`)
  }
  const { by, note, undoes, revision } = bag as Record<string, string | undefined>
  const at = bag.at === undefined ? undefined : saidAt(bag.at as string)
  if (bag.at !== undefined && !at)
    return no(`at must be a date and time with a zone, such as 2026-05-04T17:50:00.000Z; found ${show(bag.at)}`)
  if (revision !== undefined && !/^[0-9a-f]{8}$/.test(revision))
    return no(`revision must be 8 hex digits in lower case, found ${show(revision)}`)
  if (what === 'undone' && !undoes) return no('undone needs undoes: the id of the entry to take back')
  if (what !== 'undone' && undoes !== undefined) return no(`undoes belongs to undone, not to ${what}`)
  if (what === 'flashed' && !revision)
    return no('flashed needs revision: the 8 hex digits in the header that was flashed')
  if (what === 'note' && !note?.trim()) return no('a note needs its text in note')
  let cell: Say['cell']
  if (bag.cell !== undefined) {
    const given = bagOf(bag.cell)
    const [type, batch, millivolts] = [words(given?.type), words(given?.batch), number(given?.millivolts)]
    if (!type) return no('cell must be an object with a type, such as { "type": "CR2032", "millivolts": 3210 }')
    if (given?.batch !== undefined && batch === undefined)
      return no(`cell.batch must be text, found ${show(given.batch)}`)
    if (given?.millivolts !== undefined && (millivolts === undefined || millivolts > 20_000)) {
      return no(`cell.millivolts must be a number from 0 to 20000, found ${show(given.millivolts)}`)
    }
    cell = fields<NonNullable<Say['cell']>>({ type, batch, millivolts })
  }
  return { say: fields<Say>({ v: 1, id, what, at, by, note, cell, undoes, revision }) }
}

const show = (value: unknown): string =>
  value === undefined ? 'nothing' : cut(JSON.stringify(value) ?? String(value)).slice(0, 60)
