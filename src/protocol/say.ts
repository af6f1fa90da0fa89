import type { What } from './entry.ts'
import { bagOf, cut, fields, LONGEST, LONGEST_TEXT, number, oneOf, words } from './parts.ts'
import { SAY_ID } from './topics.ts'

/** What may be said by a person; a contact's words cannot. */
export const SAYABLE = [
  'seen-closed',
  'cell-fitted',
  'module-fitted',
  'flashed',
  'proved',
  'failed',
  'round',
  'note',
  'undone',
] as const satisfies readonly What[]
export type Sayable = (typeof SAYABLE)[number]

export interface Say {
  readonly v: 1
  /** Chosen by the sender, `[0-9A-Za-z-]{1,36}`; the answer comes to `heard/<id>`, and the same id twice counts once. */
  readonly id: string
  readonly what: Sayable
  /** When it was so; absent: now. */
  readonly at?: string
  readonly by?: string
  readonly note?: string
  readonly cell?: { readonly type: string; readonly batch?: string; readonly millivolts?: number }
  readonly undoes?: string
  readonly revision?: string
  /** Of a proved or failed say: first word after the key press, so that forecasts learn from a bench beside a keeper. */
  readonly joinMilliseconds?: number
}

const SAID_AT = /^(\d{4})-(\d\d)-(\d\d)T\d\d:\d\d(:\d\d(\.\d{1,9})?)?(Z|[+-]\d\d:\d\d)$/

/** Any ISO 8601 date and time with a zone, as UTC with milliseconds; none whose year in UTC is not 0000 to 9999. */
function saidAt(text: string): string | undefined {
  const [, year, month, day] = SAID_AT.exec(text) ?? []
  const at = Date.parse(text)
  if (!day || !Number.isFinite(at)) return undefined
  if (new Date(Date.UTC(Number(year), Number(month) - 1, Number(day))).getUTCDate() !== Number(day)) return undefined
  const iso = new Date(at).toISOString()
  return iso.length === 24 ? iso : undefined
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
  const joinMilliseconds = number(bag.joinMilliseconds)
  if (bag.joinMilliseconds !== undefined && (joinMilliseconds === undefined || joinMilliseconds > 3_600_000))
    return no(`joinMilliseconds must be a number from 0 to 3600000, found ${show(bag.joinMilliseconds)}`)
  if (joinMilliseconds !== undefined && what !== 'proved' && what !== 'failed')
    return no(`joinMilliseconds belongs to proved and failed, not to ${what}`)
  return { say: fields<Say>({ v: 1, id, what, at, by, note, cell, undoes, revision, joinMilliseconds }) }
}

const show = (value: unknown): string =>
  value === undefined ? 'nothing' : cut(JSON.stringify(value) ?? String(value)).slice(0, 60)
