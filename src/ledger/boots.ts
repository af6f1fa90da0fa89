import type { Entry } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import { MINUTE } from '../text/time.ts'
import type { Fold } from './fold.ts'

/** Widest gap in boot counts that counts as sends which nobody heard; a wider one means that the counter began anew. */
const BOOT_GAP = 1000

/** A lower count so soon after another word may be that of a word which comes late. */
const SOON = 10 * MINUTE

/**
 * What the boot count of a word says of its cell; undefined where there is none to compare, and on mains, where one boot
 * lasts for months.
 * - `next`: the boot that was heard last, or a later one. Those between are sends, and their words may still come.
 * - `again`: a count that was passed and heard, in a word that may be a redelivery.
 * - `late`: a boot that was passed unheard, soon after another word or at an unknown time.
 * - `unsure`: another lower count: it is late, or the counter began anew.
 * - `anew`: new firmware, a cell or a module that nobody told of, a counter that ran over. A lower count shows it where
 *   it is too far away, or rises above a lower one before and both stand alone: words that come late come together.
 */
export function bootOf(fold: Fold, { boots, at, how, maybeAgain }: Entry, { power }: Policy) {
  const { boots: last, lowerBoots, unheardBoots, wordAt, openedAt } = fold
  if (power !== 'cell' || boots === undefined || last === undefined) return undefined
  if (Math.abs(boots - last) > BOOT_GAP) return 'anew'
  if (boots > last || (boots === last && !maybeAgain)) return 'next'
  const isUnheard = unheardBoots?.includes(boots)
  if (maybeAgain && !isUnheard) return 'again'
  const gap = Date.parse(at) - (wordAt ?? openedAt ?? 0)
  if (how === 'queued' || Math.abs(gap) < SOON) return isUnheard ? 'late' : 'unsure'
  return boots > (lowerBoots ?? last) ? 'anew' : 'unsure'
}

/** A later boot has told more, or may have. */
export const isBehind = (boot: ReturnType<typeof bootOf>): boolean => boot === 'late' || boot === 'unsure'

/** Sends that a word stands for by its boot count. */
export function sendsByBoot(
  { boots: last = 0, lowerBoots, sendsSinceBoots }: Fold,
  boots: number,
  boot: NonNullable<ReturnType<typeof bootOf>>,
): number {
  if (boot === 'next') return Math.max(0, boots - last - sendsSinceBoots)
  if (boot === 'late') return 0
  return boot === 'anew' && lowerBoots !== undefined && boots > lowerBoots && boots < last ? boots - lowerBoots : 1
}

/** What is known of boots after a word that counts and stands for `sent` sends. */
export function withBoot(fold: Fold, entry: Entry, policy: Policy, sent: number) {
  const { boots } = entry
  const { boots: last = 0, unheardBoots = [], sendsSinceBoots } = fold
  if (boots === undefined) return { sendsSinceBoots: sendsSinceBoots + sent }
  const boot = bootOf(fold, entry, policy)
  if (isBehind(boot)) return { lowerBoots: boots, unheardBoots: unheardBoots.filter(one => one !== boots) }
  const passed = (_: unknown, n: number): number => last + 1 + n
  return {
    ...NO_BOOTS,
    boots,
    sendsSinceBoots: 0,
    unheardBoots:
      boot === 'next'
        ? [...unheardBoots, ...Array.from({ length: boots - last - 1 }, passed)].slice(-BOOT_GAP)
        : undefined,
  }
}

/** A counter that is known to begin anew. */
export const NO_BOOTS = { boots: undefined, lowerBoots: undefined, unheardBoots: undefined, sendsSinceBoots: 0 }
