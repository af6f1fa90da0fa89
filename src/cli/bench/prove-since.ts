import type { Entry } from '../../protocol/entry.ts'
import { localTime } from '../../text/local-time.ts'
import { MINUTE } from '../../text/time.ts'

/** Words that came this long before a result may belong to the proof that it ends. */
const PROOF_MILLISECONDS = 15 * MINUTE

/** What one proof measured. */
export interface Measured {
  /** The first word after the key press, the middle one of several. */
  readonly joinMilliseconds?: number | undefined
  /** The lowest that its payloads told. */
  readonly millivolts?: number | undefined
}

/** What changed since the last proof of a contact; a figure that one of the two lacks is absent. */
export interface SinceLast {
  /** ISO 8601: when the last proof ended. */
  readonly at: string
  readonly joinMilliseconds?: { readonly was: number; readonly now: number }
  readonly millivolts?: { readonly was: number; readonly now: number }
}

/** The middle of some times, the later of two; undefined of none. */
export const middle = (times: readonly number[]): number | undefined =>
  [...times].sort((a, b) => a - b)[Math.floor(times.length / 2)]

/** The lowest volts that words of a contact told. */
export function lowestMillivolts(entries: readonly Entry[]): number | undefined {
  const told = entries.flatMap(({ millivolts, what }) =>
    millivolts === undefined || !WORDS.has(what) ? [] : [millivolts],
  )
  return told.length === 0 ? undefined : Math.min(...told)
}
const WORDS: ReadonlySet<Entry['what']> = new Set(['opened', 'closed'])

/**
 * Compares a proof with the last one that the tally holds.
 * @param history - entries of the contact alone, in their order, those of this proof left out
 * @returns undefined where none stands there, or nothing was measured twice
 */
export function sinceLast(history: readonly Entry[], now: Measured): SinceLast | undefined {
  const last = history.findLastIndex(({ what }) => what === 'proved' || what === 'failed')
  const proof = history[last]
  if (!proof) return undefined
  const before = history.slice(0, last)
  const earlier = before.findLastIndex(({ what }) => what === 'proved' || what === 'failed')
  const words = before
    .slice(earlier + 1)
    .filter(({ at }) => Date.parse(proof.at) - Date.parse(at) <= PROOF_MILLISECONDS)
  const both = (was: number | undefined, is: number | undefined) =>
    was === undefined || is === undefined ? undefined : { was, now: is }
  const joinMilliseconds = both(proof.joinMilliseconds, now.joinMilliseconds)
  const millivolts = both(lowestMillivolts(words), now.millivolts)
  if (!joinMilliseconds && !millivolts) return undefined
  return { at: proof.at, ...(joinMilliseconds && { joinMilliseconds }), ...(millivolts && { millivolts }) }
}

/** In a sentence: `since Fri 2026-05-01 18:02: first word after 4.4 s, then 3.9 s`. */
export function sinceText({ at, joinMilliseconds: join, millivolts: volts }: SinceLast, timezone: string): string {
  const parts = [
    ...(join ? [`first word after ${(join.now / 1000).toFixed(1)} s, then ${(join.was / 1000).toFixed(1)} s`] : []),
    ...(volts ? [`lowest ${(volts.now / 1000).toFixed(2)} V, then ${(volts.was / 1000).toFixed(2)} V`] : []),
  ]
  return `Beside the proof of ${localTime(at, timezone)}: ${parts.join('; ')}`
}
