import { type TallyPlace, tallyPlace } from '../../protocol/topics.ts'
import { topicsOf } from '../state/shown.ts'
import type { HeardWord } from '../state/tally.ts'
import { draftKeeper, hearKeeper } from './keeper.ts'
import { hear } from './tally.ts'
import { change, each, type Turn } from './turn.ts'

/** Messages of one frame: the keeper's, then those of the contacts, each in the order in which they came. */
export function takeHeard(turn: Turn, words: readonly HeardWord[]): Turn {
  const { keeper, link } = turn.state
  const ofKeeper: (readonly [TallyPlace, HeardWord])[] = []
  const ofContacts: (HeardWord & { readonly liveSince: number | undefined })[] = []
  for (const word of words) {
    const place = keeper.tally === '' ? undefined : tallyPlace(keeper.tally, word.message.topic)
    if (place) ofKeeper.push([place, word])
    else ofContacts.push({ ...word, liveSince: link.liveSince })
  }
  const lastWordAt = words.findLast(({ message }) => !message.retain)?.now ?? link.lastWordAt
  const linked = change(turn, 'link', { hasHeard: true, lastWordAt })
  return hearContacts(hearKeepers(linked, ofKeeper), ofContacts)
}

function hearKeepers(turn: Turn, words: readonly (readonly [TallyPlace, HeardWord])[]): Turn {
  if (words.length === 0) return turn
  const [drafted, draft] = draftKeeper(turn)
  return each(drafted, words, (now, [place, word]) => hearKeeper(now, draft, place, word))
}

function hearContacts(turn: Turn, words: Parameters<typeof hear>[1]): Turn {
  if (words.length === 0) return turn
  const hearsContacts = turn.state.tally.hearsContacts || isAnyOfContacts(turn, words)
  return hear(change(turn, 'tally', { hearsContacts }), words)
}

function isAnyOfContacts({ state }: Turn, words: readonly HeardWord[]): boolean {
  const topics = new Set(topicsOf(state))
  return words.some(({ message }) => topics.has(message.topic))
}
