import * as z from 'zod/mini'
import { parseDeaf } from '../../house/deaf.ts'
import { parseTold } from '../../protocol/alert.ts'
import { fitting, fittingJson, LONGEST } from '../../protocol/fitting.ts'
import { anyTime, count, oneOf, pattern } from '../../protocol/parts.ts'
import { strictText } from './rows.ts'
import type { Sql } from './sqlite.ts'

/** Letters and digits that hold 128 bits; every broker takes up to 23 of them (MQTT-3.1.3-5). */
const CLIENT_ID = /^[0-9A-Za-z]{22}$/

/** Names and values that a store keeps beside its entries. */
export type Facts = readonly (readonly [name: string, value: string])[]

/** @throws Error where they cannot be read */
export function factsOf(sql: Sql): Facts {
  const query = 'select cast(name as blob) as name, cast(value as blob) as value from facts'
  const rows = sql.prepare(query).all([]) as { name: ArrayBuffer; value: ArrayBuffer }[]
  return rows.map(({ name, value }) => [strictText(name), strictText(value)] as const)
}

const asText =
  <T>(schema: z.ZodMiniType<T>) =>
  (value: string): T | undefined =>
    fitting(schema, value)
const asJson =
  <T>(schema: z.ZodMiniType<T>) =>
  (value: string): T | undefined =>
    fittingJson(schema, value, LONGEST.register)

const READERS = {
  /** The turn up to which the broker has read acknowledgements, where it hands packet ids out again at once; else ''. */
  acksRead: value => (value === '' ? undefined : (asJson(count)(value) ?? 0)),
  /** When counting began. */
  born: asText(anyTime),
  /** The keeper's name at the broker. */
  clientId: asText(pattern(CLIENT_ID, 'must be letters and digits that hold 128 bits')),
  /** Until when the link was live; '' where nobody knows. */
  lastLive: asText(anyTime),
  /** Turns after which the last two links of the session began; empty before its first. */
  links: asJson(z.union([z.tuple([count, count]), z.tuple([])])),
  /** The store was put together again since its last keeper. */
  mended: asText(oneOf(['yes', ''])),
  /** Where a session under the client id of an earlier version stands; '' where there is none. */
  olderSession: asText(oneOf(['waits', 'moved', ''])),
  /** The transaction in which a packet id last came again too soon; '' where none did. */
  reusedIn: value => (value === '' ? Number.NEGATIVE_INFINITY : asJson(count)(value)),
  /** The message that waits unacknowledged at the end of the session; '' where none is known to. */
  seal: asText(pattern(/^[0-9a-z-]{0,36}$/, 'must be the id of a marker')),
  /** Whether the broker was given a session under the keeper's name. */
  session: asText(oneOf(['begun', ''])),
  /** When the last keeper started. */
  started: asText(anyTime),
  /** The last time at which the clock could be right, as it was when it was last set. */
  timeKnown: asText(anyTime),
  /** The contacts' topics that the last keeper listened to. */
  topics: asJson(z.array(z.string())),
  /** The times in which nobody listened. */
  deaf: parseDeaf,
  /** What was told already. */
  alerts: parseTold,
} as const satisfies Record<string, (value: string) => unknown>

/** What facts are read from. */
export interface HasFacts {
  fact(name: string): string | undefined
}

/**
 * A fact that a store keeps; undefined where it has none, or one that does not fit.
 * @param absent - what the store has where it says nothing
 */
export function factIn<Name extends keyof typeof READERS>(
  store: HasFacts,
  name: Name,
  absent?: string,
): ReturnType<(typeof READERS)[Name]> | undefined {
  const value = store.fact(name) ?? absent
  return value === undefined ? undefined : (READERS[name](value) as ReturnType<(typeof READERS)[Name]>)
}
