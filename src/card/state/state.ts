import { type Chosen, nothingChosen, type Sort, type View } from './chosen.ts'
import { type Clock, noClock } from './clock.ts'
import { type Deeds, noDeeds } from './deeds.ts'
import { type Keeper, noKeeper } from './keeper.ts'
import { type Link, noLink } from './link.ts'
import { type Listening, notListening } from './listening.ts'
import type { RegisterStanding } from './register.ts'
import { noTally, type Tally } from './tally.ts'
import { noWalk, type Walk } from './walk.ts'

/** Whose readings are shown: a live keeper's, this tablet's own, or the last of a keeper that is silent. */
export type Shown = 'keeper' | 'own' | 'kept'

/** What the element's attributes ask for. */
export interface Attributes {
  /** Address of the broker; empty: the register's. */
  readonly broker: string
  /** Topic prefix of a keeper's tally; empty: the register's. */
  readonly tally: string
  /** What is shown first, and what one comes back to. */
  readonly view: View
  readonly sort: Sort
  readonly maySay: boolean
  /** What is said here is signed so; empty: not at all. */
  readonly by: string
}

/** All that one card knows, as plain data that is never changed in place. */
export interface CardState {
  readonly attributes: Attributes
  /** When the element came into the page, milliseconds since the epoch. */
  readonly joinedAt: number
  readonly clock: Clock
  readonly register: RegisterStanding
  readonly link: Link
  readonly listening: Listening
  readonly tally: Tally
  readonly keeper: Keeper
  readonly shown: Shown
  readonly chosen: Chosen
  readonly deeds: Deeds
  readonly walk: Walk
}

export const startState: CardState = {
  attributes: { broker: '', tally: '', view: 'sheet', sort: 'urgency', maySay: false, by: '' },
  joinedAt: 0,
  clock: noClock,
  register: { state: 'loading' },
  link: noLink,
  listening: notListening,
  tally: noTally,
  keeper: noKeeper,
  shown: 'own',
  chosen: nothingChosen,
  deeds: noDeeds,
  walk: noWalk,
}
