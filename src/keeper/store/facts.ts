import { strictText } from './rows.ts'
import type { Sql } from './sqlite.ts'

/** Names and values that a store keeps beside its entries. */
export type Facts = readonly (readonly [name: string, value: string])[]

/** @throws Error where they cannot be read */
export function factsOf(sql: Sql): Facts {
  const query = 'select cast(name as blob) as name, cast(value as blob) as value from facts'
  const rows = sql.prepare(query).all([]) as { name: ArrayBuffer; value: ArrayBuffer }[]
  return rows.map(({ name, value }) => [strictText(name), strictText(value)] as const)
}
