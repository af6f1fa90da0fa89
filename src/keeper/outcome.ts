import { step } from '../house/machine.ts'
import type { Effect, HouseEvent, HouseState } from '../house/state.ts'
import type { Entry } from '../protocol/entry.ts'
import type { HeardNote } from '../protocol/heard-note.ts'

/** What one event or several in a row come to: the state after them, and what has to be done. */
export interface Outcome {
  readonly state: HouseState
  readonly entries: readonly Entry[]
  readonly answers: readonly { readonly id: string; readonly note: HeardNote }[]
  /** What could not be taken, and why. */
  readonly refused: readonly string[]
  /** The contacts' topics, where a register was taken. */
  readonly topics: readonly string[] | undefined
  readonly forecast: 'now' | 'soon' | undefined
  /** Marks whose readings say something else. */
  readonly changed: ReadonlySet<string>
  /** When the machine wants to be woken, where that is another time than before; milliseconds since the epoch. */
  readonly wakeAt: number | undefined
}

/** Plays events one after the other; each is made of the state that it meets. */
export function playAll(
  before: HouseState,
  events: readonly ((state: HouseState) => HouseEvent | undefined)[],
): Outcome {
  let state = before
  const effects: Effect[] = []
  for (const eventOf of events) {
    const event = eventOf(state)
    if (!event) continue
    const stepped = step(state, event)
    state = stepped.state
    effects.push(...stepped.effects)
  }
  return { state, ...sumOf(effects) }
}

function sumOf(effects: readonly Effect[]): Omit<Outcome, 'state'> {
  const entries: Entry[] = []
  const answers: { id: string; note: HeardNote }[] = []
  const refused: string[] = []
  const changed = new Set<string>()
  let topics: Outcome['topics']
  let forecast: Outcome['forecast']
  let wakeAt: Outcome['wakeAt']
  for (const effect of effects) {
    switch (effect.kind) {
      case 'keep':
        entries.push(...effect.entries)
        break
      case 'answer':
        answers.push({ id: effect.id, note: effect.note })
        break
      case 'refused':
        refused.push(effect.why)
        break
      case 'listen':
        topics = effect.topics
        break
      case 'forecast':
        forecast = forecast === 'now' ? forecast : effect.when
        break
      case 'changed':
        for (const mark of effect.marks) changed.add(mark)
        break
      case 'wake':
        wakeAt = effect.at
    }
  }
  return { entries, answers, refused, topics, forecast, changed, wakeAt }
}
