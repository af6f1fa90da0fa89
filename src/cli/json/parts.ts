import * as z from 'zod/mini'
import { amount, map, oneOf, text } from '../../protocol/parts.ts'

/** What the schemas of `--json` are made of, beside the parts of the wire. A figure that has no bound is left out. */

const LONGEST = 100_000

export const optional = z.optional
export const flag = z.boolean()
export const words = text(LONGEST)
export const list = <Item extends z.core.$ZodType>(item: Item) => z.array(item)
/** With what it is, where its name does not say it. */
export const said = <Schema extends z.ZodMiniType>(schema: Schema, is: string): Schema =>
  schema.check(z.describe(is)) as Schema

/** Nine of ten lie between; without p95 there is no upper bound. */
export const range = said(
  map({ p05: amount, p50: amount, p95: optional(amount) }),
  'The middle value and its 90 % range; without p95 there is no upper bound.',
)
export const interval = said(
  z.tuple([amount, z.nullable(amount)]),
  'Lower and upper end; null: there is no upper bound.',
)

const UNKNOWN = oneOf(['unknown'])
export const unknownBefore = said(
  z.union([amount, UNKNOWN]),
  'Sends of this cell before the count began, about so many; "unknown": nobody can guess.',
)
