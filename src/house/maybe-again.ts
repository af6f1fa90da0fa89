import type { ToldOpening } from '../ledger/story.ts'
import { type MarkState, takenBack } from '../ledger/window.ts'

/**
 * Which of the openings that a story tells may be the message of another one once more: their times, milliseconds since
 * the epoch. Only a keeper can know (`keeper/session/redelivery.ts`), so that a tablet does not carry this rule.
 */
export function maybeAgainIn({ window }: MarkState, latest: readonly ToldOpening[]): readonly number[] {
  const isGone = takenBack(window)
  const some = window.filter(kept => kept.entry.maybeAgain && kept.entry.what === 'opened' && !isGone(kept))
  const times = some.map(({ entry }) => Date.parse(entry.at))
  return latest.flatMap(([at]) => {
    const place = times.indexOf(at)
    return place < 0 ? [] : times.splice(place, 1)
  })
}
