import type { Entry } from '../protocol/entry.ts'
import { DAY, iso, MINUTE } from '../text/time.ts'
import { changed, type Fold } from './fold.ts'
import { hasUnknownEnd, tellClockSet } from './story.ts'

/** This program did not exist before, milliseconds since the epoch: a machine without a clock of its own starts in 1970. */
export const PROGRAM_BEGAN = Date.UTC(2026, 0, 1)

/** Text of a note by `sashtally`: the clock was wrong from `at` on, and was set at `until`. */
export const CLOCK_SET = 'clock'

/** True for what has no latest time yet, or came at a time of the clock that was wrong from `from` on. */
const isSinceDoubtful = ({ since, sinceUntil }: Fold, from: number): boolean =>
  sinceUntil === null || (sinceUntil === undefined && since !== undefined && since > from)
const isLastDoubtful = ({ last }: Fold, from: number): boolean =>
  last !== undefined && last.until === undefined && (last.how === 'queued' || Date.parse(last.at) > from)

/** True where a clock that was wrong from `from` on leaves a time of the reading in doubt, milliseconds; infinite: only where nobody knows a latest time. */
export const isDoubtful = (fold: Fold, from: number): boolean =>
  isSinceDoubtful(fold, from) || isLastDoubtful(fold, from) || hasUnknownEnd(fold.story)

/**
 * What came while the clock was wrong happened before it was set. A time that lies after that is false: of what it dates
 * is known only that it came since the tally of this opening began, or, where that has such a time too, since this program.
 */
export function foldClockSet(fold: Fold, { at, until = at }: Entry): Fold {
  const [from, to] = [Date.parse(at), Date.parse(until)]
  const { since, sinceUntil, last, openedAt, wordAt, story, provenAt, firstAt = to } = fold
  const [isSince, isLast] = [isSinceDoubtful(fold, from), isLastDoubtful(fold, from)]
  const began = Math.min(firstAt > to ? PROGRAM_BEGAN : firstAt, to)
  const sound = (time: number): number => (time > to + MINUTE ? began : Math.min(time, to))
  const isWrong = (time: number): boolean => time > from || (isSince && time === since)
  return changed(fold, {
    since: since === undefined ? undefined : isSince ? sound(since) : since,
    sinceUntil: isSince ? to : sinceUntil,
    story: story && tellClockSet(story, { isWrong, sound, to }),
    last: last && isLast ? { ...last, at: iso(sound(Date.parse(last.at))), until, how: 'queued' } : last,
    openedAt: isLast && fold.state === 'opened' ? to : openedAt,
    provenAt: provenAt !== undefined && provenAt > to + DAY ? undefined : provenAt,
    wordAt: wordAt !== undefined && wordAt >= from ? undefined : wordAt,
  })
}
