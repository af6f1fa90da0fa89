import { answerIn } from '../../house/asked.ts'
import { parseKeeper } from '../../protocol/keeper-note.ts'
import { parseReading, type Reading } from '../../protocol/reading.ts'
import { parseRegisterNote } from '../../protocol/register-note.ts'
import { parseStory, type StoryNote } from '../../protocol/story.ts'
import type { TallyPlace } from '../../protocol/topics.ts'
import { utf8Text } from '../../text/utf8.ts'
import { houseOfNote } from '../state/house.ts'
import { isBeating, isHeard, isUsed, noKeeper } from '../state/keeper.ts'
import { hasStood } from '../state/link.ts'
import { NAMES } from '../state/memory.ts'
import { memoryOf } from '../state/shown.ts'
import type { HeardWord } from '../state/tally.ts'
import { answered } from './says.ts'
import { heardOpen } from './tally.ts'
import { change, effect, type Turn } from './turn.ts'
import { walkOn } from './walk.ts'

/** @param isRemembered - this tablet heard a keeper in the house when it last listened */
export const useKeeper = (turn: Turn, tally: string, isRemembered: boolean): Turn =>
  turn.state.keeper.tally === tally ? turn : change(turn, 'keeper', { ...noKeeper, tally, isRemembered })

/** A tablet that is loaded while the link is down must know that its own tally is not the house's. */
export function rememberKeeper(turn: Turn): Turn {
  const { keeper, link } = turn.state
  const isQuiet = hasStood(link, turn.stamp.now)
  // A house where nothing came of a keeper by then has none any more.
  const isRemembered = isUsed(keeper) && !(isQuiet && !isHeard(keeper))
  if (isRemembered === keeper.isRemembered) return turn
  const name = NAMES.keeper(memoryOf(turn.state))
  const text = isRemembered ? '1' : ''
  return effect(change(turn, 'keeper', { isRemembered }), { kind: 'remember', name, text })
}

/** Maps of a keeper that were copied for the messages of one frame: nobody else has seen them yet. */
export interface KeeperDraft {
  readonly readings: Map<string, Reading>
  readonly toldAt: Map<string, number>
  readonly stories: Map<string, StoryNote>
}

export function draftKeeper(turn: Turn): readonly [Turn, KeeperDraft] {
  const { readings, toldAt, stories } = turn.state.keeper
  const draft = { readings: new Map(readings), toldAt: new Map(toldAt), stories: new Map(stories) }
  return [change(turn, 'keeper', draft), draft]
}

/** One of the tally's own messages, in the order in which they came. */
export function hearKeeper(turn: Turn, draft: KeeperDraft, place: TallyPlace, word: HeardWord): Turn {
  const { message, now, elapsed } = word
  const text = utf8Text(message.payload)
  switch (place.kind) {
    case 'register': {
      const note = parseRegisterNote(text)
      return note ? change(turn, 'keeper', { house: houseOfNote(note) }) : turn
    }
    case 'keeper': {
      const note = parseKeeper(text)
      if (!note) return turn
      if (message.retain) return change(turn, 'keeper', { note })
      return change(turn, 'keeper', { note, beat: note.state === 'live' ? { now, elapsed } : undefined })
    }
    case 'opening': {
      const reading = parseReading(text)
      if (reading?.mark === place.mark) return takeReading(turn, draft, reading, word)
      if (text === '') draft.readings.delete(place.mark)
      return turn
    }
    case 'story': {
      const story = parseStory(text)
      if (story?.mark === place.mark) draft.stories.set(place.mark, story)
      if (text === '') draft.stories.delete(place.mark)
      return turn
    }
    case 'heard': {
      const came = answerIn(turn.state.keeper.tally, message)
      return came ? answered(signOfLife(turn, word), came.id, came.answer) : turn
    }
    default:
      return turn
  }
}

/** An answer comes from a keeper at work, as a beat does. */
const signOfLife = (turn: Turn, { now, elapsed }: HeardWord): Turn => change(turn, 'keeper', { beat: { now, elapsed } })

/** A reading whose last word is new and live tells of that word. */
function takeReading(turn: Turn, draft: KeeperDraft, reading: Reading, word: HeardWord): Turn {
  const { mark, last } = reading
  const isLive = !word.message.retain
  const before = draft.readings.get(mark)
  draft.readings.set(mark, reading)
  if (isLive) draft.toldAt.set(mark, word.now)
  const isNew = before?.last?.at !== last?.at || before?.last?.word !== last?.word
  if (!isLive || !isNew || last?.how !== 'live' || !isBeating(turn.state.keeper, word)) return turn
  const entry = { id: `${mark} ${last.at}`, at: last.at, mark, what: last.word, how: 'live' } as const
  return heardOpen(walkOn(turn, entry), entry)
}
