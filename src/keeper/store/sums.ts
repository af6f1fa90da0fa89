import { hash } from 'node:crypto'
import type { EntryRow } from './rows.ts'

/** Hex digits of a sum: 128 bits, against flipped bits and lost rows; it is no signature. */
const DIGITS = 32

/** What a sum looks like. */
export const SUM = new RegExp(`^[0-9a-f]{${DIGITS}}$`)

/** Stands before the first entry. */
export const FIRST_SUM = '0'.repeat(DIGITS)

/**
 * The sum that an entry carries: over its row and the sum of the entry before it, so that an entry that is altered, lost
 * or put elsewhere does not fit.
 */
export const sumOfRow = (before: string, { seq, id, at, mark, body }: EntryRow): string =>
  hash('sha256', JSON.stringify([before, seq, id, at, mark, body])).slice(0, DIGITS)

/** The sum of a snapshot, which belongs to the entry after which it was made. `kept` is long: it is not copied twice. */
export const sumOfSnapshot = (entrySum: string, seq: number, format: string, kept: string): string =>
  hash('sha256', `${entrySum} ${seq} ${format}\n${kept}`).slice(0, DIGITS)
