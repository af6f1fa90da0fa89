import { hearSay } from '../house/hear-say.ts'
import type { Arrival, HouseEvent, HouseState, Word } from '../house/state.ts'
import type { Entry } from '../protocol/entry.ts'
import type { Heard } from '../protocol/feed.ts'
import { newId } from './id.ts'
import type { Redelivery } from './session/redelivery.ts'

/** An event without what the journal adds when it is played. */
export type Planned =
  | Omit<Extract<HouseEvent, { kind: 'missed' }>, 'id' | 'now'>
  | Omit<Extract<HouseEvent, { kind: 'clock' }>, 'id' | 'now'>
  | Omit<Extract<HouseEvent, { kind: 'register' }>, 'id' | 'now'>
  | Omit<Extract<HouseEvent, { kind: 'forecast' }>, 'id' | 'now'>
  | Omit<Extract<HouseEvent, { kind: 'no-forecast' }>, 'id' | 'now'>

/** What waits for its transaction: a message or an event. */
export interface Item {
  readonly word?: { readonly heard: Heard; readonly arrival: Arrival }
  readonly planned?: Planned
  /** A session or another link of the session begins, and a transaction with it. */
  readonly begins?: 'session' | 'link'
  /** A fact is to be on the disk when this is done. */
  readonly isFact?: true
  done?(): void
}

/** Messages in one transaction at most: acknowledgements go out in between. */
const MOST_IN_ONE = 100

/** What of a queue goes into the next transaction: nothing of a link stands in one with what came before it. */
export function nextOf(queue: readonly Item[]): Item[] {
  const some = queue.slice(0, MOST_IN_ONE)
  const end = some.findIndex(({ begins }, index) => index > 0 && begins)
  return end < 0 ? some : some.slice(0, end)
}

/** Makes an event of the state that it meets; undefined: there is none. */
export type EventOf = (state: HouseState) => HouseEvent | undefined

interface At {
  readonly now: number
  readonly session: Redelivery
  find(id: string): Entry | undefined
}

/** The events of one transaction: messages that follow each other are one. Stages the messages in the session. */
export function eventsOf(items: readonly Item[], { now, session, find }: At): readonly EventOf[] {
  const events: EventOf[] = []
  let words: Word[] | undefined
  for (const { word, planned } of items) {
    if (word) {
      if (!words) {
        const gathered: Word[] = []
        words = gathered
        events.push(() => ({ kind: 'words', words: gathered, now, says: { hear: hearSay, find } }))
      }
      words.push(wordOf(word, session, now))
    } else words = undefined
    if (planned) events.push(() => ({ ...planned, id: newId(now), now }))
  }
  return events
}

function wordOf({ heard, arrival }: NonNullable<Item['word']>, session: Redelivery, now: number): Word {
  const delivery = session.judge(heard)
  session.stage(heard)
  return { id: newId(now), message: heard, arrival, ...(delivery === 'first' ? {} : { delivery }) }
}
