import type { CardEffect } from '../state/effect.ts'
import type { Stamp } from '../state/event.ts'
import type { CardState } from '../state/state.ts'

/** A state on its way to the next one, with what has to be done so far. */
export interface Turn {
  readonly state: CardState
  readonly effects: readonly CardEffect[]
  readonly stamp: Stamp
}

export const set = (turn: Turn, change: Partial<CardState>): Turn => ({ ...turn, state: { ...turn.state, ...change } })

/** Changes some fields of one part of the state. */
export function change<Part extends keyof CardState>(turn: Turn, part: Part, more: Partial<CardState[Part]>): Turn {
  return set(turn, { [part]: { ...(turn.state[part] as object), ...more } } as Partial<CardState>)
}

export const effect = (turn: Turn, ...more: readonly CardEffect[]): Turn => ({
  ...turn,
  effects: [...turn.effects, ...more],
})

/** Does one after the other. */
export const each = <Item>(turn: Turn, items: Iterable<Item>, next: (turn: Turn, item: Item) => Turn): Turn => {
  let now = turn
  for (const item of items) now = next(now, item)
  return now
}
