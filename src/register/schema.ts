import * as z from 'zod/mini'
import { HOUR } from '../text/time.ts'
import { utf8Length } from './topics.ts'
import { BUILT_IN_LOADS, KINDS, MARK, ROOFS } from './types.ts'

/** Each rule is `code|sentence`: the code of the problem, and what holds. */
const rule = (code: string, sentence: string) => ({ error: `${code}|${sentence}` })

const text = (what: string, most = 200) => {
  const says = rule('text', `${what} is text of 1 to ${most} characters`)
  return z.string(says).check(z.minLength(1, says), z.maxLength(most, says), z.regex(/^[^\0\p{Cs}]*$/u, says))
}
const number = (what: string, low: number, high: number, unit = '') => {
  const says = rule('number', `${what} is a number from ${low} to ${high}${unit}`)
  return z.number(says).check(z.gte(low, says), z.lte(high, says))
}
const whole = (what: string, low: number, high: number) => {
  const says = rule('number', `${what} is a whole number from ${low} to ${high}`)
  return z.int(says).check(z.gte(low, says), z.lte(high, says))
}
const positive = (what: string, high: number, unit = '') => {
  const says = rule('number', `${what} is a number above 0, at most ${high}${unit}`)
  return z.number(says).check(z.gt(0, says), z.lte(high, says))
}
const oneOf = <const Words extends readonly [string, ...string[]]>(what: string, words: Words) =>
  z.enum(words, rule('choice', `${what} is one of ${words.join(', ')}`))
const map = <Shape extends z.core.$ZodShape>(what: string, shape: Shape) =>
  z.strictObject(shape, rule('map', `${what} is a map with the keys ${Object.keys(shape).join(', ')}`))
const list = <Item extends z.core.$ZodType>(what: string, item: Item) =>
  z.array(item, rule('list', `${what} is a list`))

/** A day of the calendar as `YYYY-MM-DD`. */
const isDay = (value: string): boolean => {
  const [year = 0, month = 0, day = 0] = value.split('-').map(Number)
  const date = new Date(Date.UTC(year, month - 1, day))
  return date.getUTCMonth() === month - 1 && date.getUTCDate() === day
}
const day = (what: string) => {
  const says = rule('date', `${what} is a day of the calendar, year first, such as 2026-03-01`)
  return z.string(says).check(z.regex(/^(?:19|20)\d\d-\d\d-\d\d$/, says), z.refine(isDay, says))
}

const markRule = rule('mark', 'A mark is 1 to 16 of A-Z, a-z, 0-9 and hyphen, and begins with a letter or digit')
const mark = z.string(markRule).check(z.regex(MARK, markRule))

const pointerRule = rule(
  'json-pointer',
  'A JSON Pointer (RFC 6901) is empty or begins with /, and ~ stands only in ~0 and ~1',
)
const jsonPointer = z.string(pointerRule).check(z.regex(/^(?:\/(?:[^~/]|~[01])*)*$/, pointerRule))

// Without leading zeros: in C they would make an octal number of it.
const octet = '(?:25[0-5]|2[0-4]\\d|1\\d\\d|[1-9]?\\d)'
const addressRule = rule('ip-address', 'A fixed address is IPv4, such as 192.168.7.31')
const bssidRule = rule('bssid', 'A bssid is six pairs of hex digits, such as 02:00:5e:10:00:01')
const networkRule = rule('network-name', 'The name of a network is 1 to 32 bytes of UTF-8 (IEEE 802.11, from memory)')
const wifi = map('wifi', {
  name: z.optional(
    z.string(networkRule).check(
      z.minLength(1, networkRule),
      z.regex(/^[^\0\p{Cs}]*$/u, networkRule),
      z.refine(name => typeof name !== 'string' || utf8Length(name) <= 32, networkRule),
    ),
  ),
  channel: z.optional(whole('channel', 1, 196)),
  bssid: z.optional(z.string(bssidRule).check(z.regex(/^[0-9A-Fa-f]{2}(?::[0-9A-Fa-f]{2}){5}$/, bssidRule))),
  address: z.optional(z.string(addressRule).check(z.regex(new RegExp(`^${octet}(?:\\.${octet}){3}$`), addressRule))),
})

const bedtimeRule = rule('bedtime', "bedtime is a time of day by the house's clocks, such as '22:30'")
const receiverRule = rule(
  'alerts-to',
  'to is an http:// or https:// address without user and password, since secrets never stand in the register',
)
const domainRule = rule('homie-domain', 'homieDomain is one topic level of a-z, 0-9 and hyphen')
const portOf = (address: string): number => Number(/^\w+:\/\/[^/?]*:(\d+)(?:[/?]|$)/.exec(address)?.[1] ?? 0)
export const alerts = map('alerts', {
  bedtime: z.optional(z.string(bedtimeRule).check(z.regex(/^(?:[01]\d|2[0-3]):[0-5]\d$/, bedtimeRule))),
  openLongMinutes: z.optional(positive('openLongMinutes', 525_600, ' minutes')),
  to: z.optional(
    z.string(receiverRule).check(
      z.maxLength(2_000, receiverRule),
      z.regex(/^https?:\/\/(?:\[[0-9A-Fa-f:.]+\]|[^\s/?#@:[\]\\]+)(?::\d{1,5})?(?:[/?][^\s#]*)?$/, receiverRule),
      z.refine(to => portOf(String(to)) <= 65_535, receiverRule),
    ),
  ),
})

const degrees = (what: string) => number(what, -30, 60, ' degrees')
const settings = {
  provenWithinDays: z.optional(positive('provenWithinDays', 3660, ' days')),
  replaceBelow: z.optional(number('replaceBelow', 0.01, 0.99)),
  takeAsClosedAfterMinutes: z.optional(
    z.nullable(positive('takeAsClosedAfterMinutes', 525_600, ' minutes, or null for never')),
  ),
  bounceSeconds: z.optional(number('bounceSeconds', 0, 3600, ' seconds')),
  openingsPerYear: z.optional(number('openingsPerYear', 0.01, 1_000_000)),
  openMinutes: z.optional(number('openMinutes', 0, 525_600, ' minutes an opening')),
  temperatureCelsius: z.optional(degrees('temperatureCelsius')),
  seasonCelsius: z.optional(map('seasonCelsius', { january: degrees('january'), july: degrees('july') })),
  lampMilliamps: z.optional(number('lampMilliamps', 0, 100, ' mA')),
  resetVolts: z.optional(positive('resetVolts', 5, ' V')),
  repeatSeconds: z.optional(number('repeatSeconds', 1, 604_800, ' seconds')),
}
export const SETTING_KEYS = Object.keys(settings) as (keyof typeof settings)[]

const milliseconds = (what: string) => positive(what, HOUR, ' ms')
const milliamps = (what: string) => number(what, 0, 10_000, ' mA')

/** Far under the charge of the least wake that a maker gives (3.8 mC, TI SWRA659A s.4.3.2). */
const LEAST_MILLICOULOMBS = 0.1

interface Drawn {
  readonly milliamps?: unknown
  readonly milliseconds?: unknown
  readonly burst?: unknown
}

/** At most what a phase draws: its bursts are added to its base. */
const chargeOf = (phases: readonly Drawn[]): number =>
  phases.reduce((sum, { milliamps, milliseconds, burst }) => {
    const { milliamps: peak = 0, milliseconds: lasts = 0 } = (burst ?? {}) as Drawn
    return sum + (Number(milliamps) * Number(milliseconds) + Number(peak) * Number(lasts)) / 1000
  }, 0)

/** Phases of a load; the other form, a built-in load's name, is `loadName`. */
export const loadPhases = list(
  'A load',
  map('A phase', {
    name: z.optional(text('The name of a phase', 60)),
    milliamps: milliamps('milliamps'),
    milliseconds: milliseconds('milliseconds'),
    burst: z.optional(
      map('burst', {
        milliamps: milliamps('milliamps'),
        milliseconds: milliseconds('milliseconds'),
        everyMilliseconds: milliseconds('everyMilliseconds'),
      }),
    ),
  }),
).check(
  z.minLength(1, rule('load', 'A load has at least one phase')),
  z.refine(
    phases => !Array.isArray(phases) || phases.length === 0 || chargeOf(phases) >= LEAST_MILLICOULOMBS,
    rule('load-charge', `A load draws at least ${LEAST_MILLICOULOMBS} mC (milliamps x milliseconds / 1000)`),
  ),
)
export const loadName = z.enum(
  BUILT_IN_LOADS,
  rule('choice', `A load is one of ${BUILT_IN_LOADS.join(', ')}, or a list of phases with milliamps and milliseconds`),
)

const words = map('words', {
  opened: z.optional(text('A word', 128)),
  rest: z.optional(text('A word', 128)),
  closed: z.optional(text('A word', 128)),
  gone: z.optional(text('A word', 128)),
})

export const senderShape = {
  reports: oneOf('reports', ['openings', 'both']),
  cell: z.optional(text('A cell', 40)),
  power: z.optional(oneOf('power', ['mains'])),
  words,
  keepAliveSeconds: z.optional(
    whole('keepAliveSeconds (two bytes in the protocol; 0 would stop the will from ever coming)', 1, 65_535),
  ),
  qos: z.optional(z.literal([0, 1, 2], rule('choice', 'qos is 0, 1 or 2'))),
  load: z.optional(z.unknown()),
  json: z.optional(
    map('json', {
      word: jsonPointer,
      millivolts: z.optional(jsonPointer),
      boots: z.optional(jsonPointer),
      revision: z.optional(jsonPointer),
      joinMilliseconds: z.optional(jsonPointer),
    }),
  ),
  wifi: z.optional(wifi),
  ...settings,
}

export const openingShape = {
  mark,
  name: text('A name'),
  room: z.optional(text('A room')),
  kind: z.optional(oneOf('kind', KINDS)),
  sender: text('A sender', 60),
  // The rules of MQTT on topics and client ids are checked with their statements' numbers, outside the schema.
  topic: z.optional(z.string(rule('topic', 'A topic is text'))),
  client: z.optional(z.string(rule('client-id', 'A client id is text'))),
  at: z.optional(
    map('at', {
      side: text('A side', 40),
      floor: z.optional(whole('floor (0 is the ground floor)', 0, 59)),
      along: z.optional(number('along', 0, 1, ' (left to right, seen from outside)')),
    }),
  ),
  cellFitted: z.optional(day('cellFitted')),
  was: z.optional(list('was', mark)),
  wifi: z.optional(wifi),
  ...settings,
}

export const brokerAddress = text('A broker address', 400)
const addressesRule = rule('broker-list', 'A broker has 1 to 8 addresses')
/** The other form of an address. */
export const brokerAddresses = list('broker', brokerAddress).check(
  z.minLength(1, addressesRule),
  z.maxLength(8, addressesRule),
)

export const houseShape = {
  house: z.optional(text('house')),
  timezone: z.optional(text('timezone', 80)),
  broker: z.optional(
    // One address or a list of them, checked apart.
    map('broker', { mqtt: z.optional(z.unknown()), websocket: z.optional(z.unknown()) }),
  ),
  tally: z.optional(z.string(rule('topic', 'tally is a topic'))),
  sides: z.optional(list('sides', text('A side', 40))),
  floors: z.optional(whole('floors', 1, 60)),
  roof: z.optional(oneOf('roof', ROOFS)),
  prices: z.optional(
    z.record(
      text('A part', 60),
      number('A price', 0, 1_000_000),
      rule('map', 'prices is a map of part names to numbers'),
    ),
  ),
  alerts: z.optional(alerts),
  homieDomain: z.optional(z.string(domainRule).check(z.regex(/^[a-z0-9-]{1,40}$/, domainRule))),
  wifi: z.optional(wifi),
  // Senders and openings are checked one by one, with the two schemas below.
  senders: z.record(z.string(), z.unknown(), rule('map', 'senders is a map of your own names to kinds of contact')),
  openings: list('openings', z.unknown()),
  ...settings,
}

export const house = map('A register', houseShape)
export const sender = map('A sender', senderShape)
export const opening = map('An opening', openingShape)
export type SenderText = z.infer<typeof sender>
export type OpeningText = z.infer<typeof opening>
export type HouseText = Omit<z.infer<typeof house>, 'broker' | 'senders' | 'openings'> & {
  readonly broker?: { readonly mqtt?: string | readonly string[]; readonly websocket?: string | readonly string[] }
  readonly senders: Readonly<Record<string, SenderText>>
  readonly openings: readonly OpeningText[]
}
