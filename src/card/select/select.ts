/** Puts the scene together from what the controllers know at this moment. */

import { headline } from '../../ledger/headline.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Policy } from '../../protocol/policy.ts'
import type { AccountKeeper } from '../controllers/account.ts'
import type { Area } from '../controllers/area.ts'
import type { Clock } from '../controllers/clock.ts'
import type { Desk } from '../controllers/desk.ts'
import type { HouseSource } from '../controllers/house-source.ts'
import type { KeeperSide } from '../controllers/keeper-side.ts'
import type { OwnTally } from '../controllers/own-tally.ts'
import type { Readings } from '../controllers/readings.ts'
import type { Rounds } from '../controllers/rounds.ts'
import type { Wire } from '../controllers/wire.ts'
import { storyOf } from '../draw/story.ts'
import { isOpenWay, type Way } from '../state/deeds.ts'
import { troubleOf } from '../views/no-house.ts'
import { whenIn } from '../words/when.ts'
import type { Words } from '../words/words.ts'
import { Layouts } from './layouts.ts'
import { openedSince } from './opened-since.ts'
import { remembering } from './remembering.ts'
import type { Scene } from './scene.ts'
import { RowSorter } from './sort.ts'

/** The broker's kept copies come at once: a link on which nothing at all was heard by then hears nothing. */
const NOTHING_MILLISECONDS = 20_000
const MINUTE = 60_000

export interface Knowing {
  readonly source: HouseSource
  readonly account: AccountKeeper
  readonly own: OwnTally
  readonly keeper: KeeperSide
  readonly wire: Wire
  readonly readings: Readings
  readonly rounds: Rounds
  readonly area: Area
  readonly desk: Desk
  readonly clock: Clock
}

/** The scene of one card; what is costly to work out is remembered for that card. */
export class Selector {
  readonly #sorter = new RowSorter()
  readonly #layouts = new Layouts()
  /** To the end of the minute: what lies beyond now is not drawn. */
  readonly #toldStory = remembering((entries: readonly Entry[], minute: number, policy: Policy) =>
    storyOf(entries, (minute + 1) * MINUTE, policy),
  )

  /** @returns undefined while there is no house to show */
  select(knowing: Knowing, words: Words, now: number, way: Way): Scene | undefined {
    const { own, keeper, wire, readings, rounds, area, desk, clock } = knowing
    const { house, rows, rowOf, shown } = readings
    if (!house || (shown === 'own' && !own.ledger)) return undefined
    const { liveSince } = wire
    const isHome = desk.view === 'home' && desk.told === undefined
    const sinceHome = desk.sinceHome ?? now
    return {
      now,
      words,
      when: whenIn(words.lang, house.timezone),
      house,
      rows,
      rowOf,
      inOrder: this.#sorter.sorted(rows, desk.sort, house.sides, words.lang),
      head: headline(
        rows.map(row => row.reading),
        readings.fresh,
      ),
      shown,
      fresh: readings.fresh,
      wire: wire.state,
      broker: wire.broker,
      lastWordAt: wire.lastWordAt,
      knownAt: readings.knownAt,
      beatAt: keeper.beatAt,
      keeperSaidAt: shown === 'kept' ? keeper.saidAt : undefined,
      keeperProblem: keeper.note?.problem,
      keeperSilent: readings.usesKeeper && !keeper.fresh,
      keeperAwaited: readings.awaits(now),
      heardNothing: !wire.hasHeard && liveSince !== undefined && Math.abs(now - liveSince) > NOTHING_MILLISECONDS,
      registerTrouble: troubleOf(knowing.source.state, words),
      otherPage: !own.writes,
      countedSince: own.since === undefined ? undefined : Date.parse(own.since),
      kept: own.kept,
      jumped: clock.jumped,
      accountKept: knowing.account.kept,
      view: desk.view,
      sort: desk.sort,
      typed: desk.typed,
      page: desk.page,
      printing: desk.printing,
      turned: desk.turned,
      area,
      layout: () =>
        desk.printing ? this.#layouts.onPaper(house) : this.#layouts.onScreen(house, area, readings.fresh),
      told: desk.told,
      story: desk.story,
      toldStory: ({ policy }) => this.#toldStory(desk.story, Math.floor(now / MINUTE), policy),
      pastCells: desk.told === undefined ? [] : own.pastCells,
      sinceHome,
      openedSince: isHome ? openedSince(rows, own.ledger, sinceHome, mark => keeper.openings(mark)) : undefined,
      gapsSince: keeper.fresh
        ? keeper.note !== undefined && Date.parse(keeper.note.since) > sinceHome
        : liveSince === undefined || liveSince > sinceHome,
      ticked: desk.said.ticked,
      sending: desk.said.sending,
      wasUnsure: desk.said.wasUnsure,
      deed: desk.said.last,
      failed: desk.said.failed,
      round: rounds.round,
      planned:
        desk.view === 'round' && !rounds.round ? rounds.plan(house, rows, new Date(now).toISOString()) : undefined,
      leaveOutNatural: rounds.leaveOutNatural,
      lastRound: rounds.last,
      maySay: way !== 'onlyLooks',
      notNow: isOpenWay(way) || way === 'onlyLooks' ? undefined : way,
      hands: desk.hands,
    }
  }
}
