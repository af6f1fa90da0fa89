/**
 * What the schemas of the wire are made of. The message of each rule is the end of a sentence that begins with the
 * place: "openings.3.mark must be ...".
 */
import * as z from 'zod/mini'
import { MARK } from '../register/types.ts'

/** A schema and everything in it as plain data that nobody changes. */
export type Plain<Schema extends z.core.$ZodType> = Frozen<z.output<Schema>>
type Frozen<T> = T extends readonly unknown[] | object ? { readonly [K in keyof T]: Frozen<T[K]> } : T

/** Longest text of one field, in characters (Unicode code points, as JSON Schema measures them). */
export const LONGEST_TEXT = 400

export const text = (longest = LONGEST_TEXT) =>
  z.string('must be text').check(z.maxLength(longest, `is at most ${longest} characters`))
export const pattern = (regex: RegExp, rule: string) => z.string(rule).check(z.regex(regex, rule))

const wholeRule = 'must be a whole number, 0 or more'
export const count = z.int(wholeRule).check(z.gte(0, wholeRule))
const amountRule = 'must be a number, 0 or more'
export const amount = z.number(amountRule).check(z.gte(0, amountRule))
export const upTo = (most: number) => {
  const rule = `must be a number from 0 to ${most}`
  return z.number(rule).check(z.gte(0, rule), z.lte(most, rule))
}
export const oneOf = <const Words extends readonly [string, ...string[]]>(words: Words) =>
  z.enum(words, `must be one of ${words.join(', ')}`)
export const only = <const Value extends string | number | boolean>(value: Value) =>
  z.literal(value, `must be ${value}`)
/** A key that may be absent; undefined it is never. */
export const optional = z.exactOptional
/** A map of the keys that are known; others are no error and are left out. */
export const map = <const Shape extends z.core.$ZodShape>(shape: Shape) => z.object(shape, 'must be a JSON object')

/** A list in which an item that does not fit may be left out, and all items after the longest that is read. */
export const some = <Item extends z.core.$ZodType>(item: Item, most: number) =>
  z.array(optional(item), 'must be a list').check(z.maxLength(most, `has at most ${most} items`))

export const mark = pattern(MARK, 'must be a mark: 1 to 16 letters, digits and hyphens, the first no hyphen')
/** Name of a say or of a marker, in its topic too. */
export const ID = /^[0-9A-Za-z-]{1,36}$/
export const id = pattern(ID, 'must be 1 to 36 of the letters A-Z and a-z, digits and -')

/** A day of the calendar, years 0000 to 9999, with the leap years of the Gregorian rule. */
const DAY =
  '(?:\\d{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12]\\d|3[01])|(?:0[469]|11)-(?:0[1-9]|[12]\\d|30)|02-(?:0[1-9]|1\\d|2[0-8]))|(?:\\d\\d(?:0[48]|[2468][048]|[13579][26])|(?:[02468][048]|[13579][26])00)-02-29)'
const HOUR = '(?:[01]\\d|2[0-3]):[0-5]\\d'

/** ISO 8601, UTC, with milliseconds. */
export const time = pattern(
  new RegExp(`^${DAY}T${HOUR}:[0-5]\\d\\.\\d{3}Z$`),
  'must be a UTC time of the calendar such as 2026-11-25T18:02:00.000Z',
)
/** As `time`, with any number of decimals of a second, or none. */
export const anyTime = pattern(
  new RegExp(`^${DAY}T${HOUR}:[0-5]\\d(?:\\.\\d{1,9})?Z$`),
  'must be a UTC time of the calendar such as 2026-11-25T18:02:00.000Z',
)
/** ISO 8601 with any zone; seconds may be missing. */
export const zonedTime = pattern(
  new RegExp(`^${DAY}T${HOUR}(?::[0-5]\\d(?:\\.\\d{1,9})?)?(?:Z|[+-]\\d\\d:\\d\\d)$`),
  'must be a date and time with a zone, such as 2026-05-04T17:50:00.000Z',
)

export const CELL_RULE = 'must be an object with a type, such as { "type": "CR2032", "millivolts": 3210 }'
