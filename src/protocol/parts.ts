/**
 * Payloads of the tally's topics from text that anybody may have published.
 * Nothing here throws; unknown fields are dropped, long text is cut, anything that does not fit is refused whole.
 */
import { MARK } from '../register/types.ts'

/** Longest payload, in UTF-16 code units: of the register, and of every other topic. */
export const LONGEST = { register: 4_000_000, other: 16_384 } as const
/** Longest text of one field, in UTF-16 code units. */
export const LONGEST_TEXT = 400

export type Bag = Readonly<Record<string, unknown>>
export const bagOf = (value: unknown): Bag | undefined =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Bag) : undefined

export function parse(text: string, longest: number): Bag | undefined {
  if (text.length > longest) return undefined
  try {
    const bag = bagOf(JSON.parse(text))
    return bag?.v === 1 ? bag : undefined
  } catch {
    return undefined
  }
}

/** Cut so that no half of a surrogate pair is left. */
export const cut = (text: string): string => text.slice(0, LONGEST_TEXT).replace(/[\uD800-\uDBFF]$/, '')
export const words = (value: unknown): string | undefined => (typeof value === 'string' ? cut(value) : undefined)
export const number = (value: unknown): number | undefined =>
  typeof value === 'number' && Number.isFinite(value) && value >= 0 ? value : undefined
export const count = (value: unknown): number | undefined => (Number.isSafeInteger(value) ? number(value) : undefined)
export const oneOf = <const T extends string>(all: readonly T[], value: unknown): T | undefined =>
  all.find(each => each === value)
export const mark = (value: unknown): string | undefined =>
  typeof value === 'string' && MARK.test(value) ? value : undefined

/** ISO 8601 UTC with milliseconds of a day that exists; undefined otherwise. */
export function time(value: unknown): string | undefined {
  if (typeof value !== 'string' || value.length !== 24) return undefined
  const at = Date.parse(value)
  return Number.isFinite(at) && new Date(at).toISOString() === value ? value : undefined
}

/** An object of the fields that are known; an unknown one is absent. */
export function fields<T extends object>(values: { [K in keyof T]: T[K] | undefined }): T {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as T
}
