import type { Figure, Status } from '../types.ts'

/** A number with where it comes from. */
export const figure = (name: string, value: number, unit: string, status: Status, source: string): Figure => ({
  name,
  value,
  unit,
  status,
  source,
})
