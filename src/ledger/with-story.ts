import type { Entry } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import { type Fold, untilOf } from './fold.ts'
import { tellOpenAgain, tellOpening, tellShut } from './story.ts'

/** A fold with what an entry adds to its story. @param before - the fold without the entry */
export function withStory(before: Fold, after: Fold, entry: Entry, { timezone = 'UTC' }: Policy): Fold {
  const at = Date.parse(entry.at)
  const { story, openings, state, since = at, wordAt = at } = after
  if (openings > before.openings) {
    const until = untilOf(entry)
    const latest = until === null ? 'unknown' : (until ?? null)
    return { ...after, story: tellOpening(story, before.openings, [wordAt, latest, null], timezone) }
  }
  const isShut = state === 'closed'
  if (!story || isShut === (before.state === 'closed')) return after
  return { ...after, story: isShut ? tellShut(story, since) : tellOpenAgain(story) }
}
