import * as z from 'zod/mini'
import { count, map, optional, type Plain, text } from './parts.ts'

const above = (most: number) => {
  const rule = `must be a number above 0 and under ${most}`
  return z.number(rule).check(z.gt(0, rule), z.lt(most, rule))
}

/** What a contact's JSON payload may carry beside its word; a figure that cannot be is left out. */
export const figuresSchema = map({
  /** Boot counter. */
  boots: optional(count),
  /** Lowest volts under load between boot and acknowledgement, in mV. */
  millivolts: optional(above(100_000)),
  /** Revision of the header it was flashed with. */
  revision: optional(text(64)),
  /** From the opening to its first word. */
  joinMilliseconds: optional(above(600_000)),
})

export interface Figures extends Plain<typeof figuresSchema> {}
