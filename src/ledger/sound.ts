import { type Entry, HOWS, WHATS } from '../protocol/entry.ts'

/** A time that reads the same in every process: a day, or a moment with its zone. */
const TIME = /^\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d))?$/
const WHAT: ReadonlySet<unknown> = new Set(WHATS)
const HOW: ReadonlySet<unknown> = new Set(HOWS)

const isText = (value: unknown): boolean => typeof value === 'string'
const isAmount = (value: unknown): boolean =>
  typeof value === 'number' && value >= 0 && value < Number.POSITIVE_INFINITY
const isCount = (value: unknown): boolean => Number.isSafeInteger(value) && (value as number) >= 0
const isTime = (value: unknown): value is string =>
  typeof value === 'string' && TIME.test(value) && !Number.isNaN(Date.parse(value))
const isCell = (value: unknown): boolean => {
  if (typeof value !== 'object' || value === null) return false
  const { type, millivolts } = value as Record<string, unknown>
  return isText(type) && (millivolts === undefined || isAmount(millivolts))
}

/** Fields that may be absent, and what they must be where they are there. */
const OPTIONAL = {
  until: isTime,
  sends: isAmount,
  boots: isCount,
  text: isText,
  by: isText,
  note: isText,
  cell: isCell,
  undoes: isText,
  millivolts: isAmount,
  revision: isText,
  linkLiveSeconds: isAmount,
  joinMilliseconds: isAmount,
} as const satisfies { readonly [Key in keyof Entry]?: (value: unknown) => boolean }
const FIELDS = Object.keys(OPTIONAL) as (keyof typeof OPTIONAL)[]

/**
 * The entry if it can count: the same object, or a copy without the fields that are not what they must be.
 * @returns undefined where id, time, mark, what or how is missing or none
 */
export function soundEntry(entry: Entry): Entry | undefined {
  if (typeof entry !== 'object' || entry === null) return undefined
  const { id, at, until, mark, what, how } = entry
  if (!isText(id) || id === '' || !isText(mark) || mark === '' || mark === '__proto__') return undefined
  if (!WHAT.has(what) || !HOW.has(how) || !isTime(at)) return undefined
  let sound = entry
  for (const field of FIELDS) {
    const value = entry[field]
    if (value === undefined) continue
    if (!OPTIONAL[field](value) || (field === 'until' && Date.parse(until!) < Date.parse(at))) {
      const { [field]: _, ...rest } = sound
      sound = rest
    }
  }
  return sound
}
