/** The scene that follows from a card's state at a moment. */

import type { Clocks } from '../../house/clock.ts'
import { headline } from '../../ledger/headline.ts'
import { planRound } from '../../ledger/round.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { isOpenWay, sendingMarks } from '../state/deeds.ts'
import { isBeating, isUsed, saidAt } from '../state/keeper.ts'
import { hearsNothing } from '../state/link.ts'
import { awaitsKeeper, brokerOf, isFresh, shownHouse, wayOf } from '../state/shown.ts'
import type { CardState } from '../state/state.ts'
import { late } from '../words/late.ts'
import { whenIn } from '../words/when.ts'
import type { Words } from '../words/words.ts'
import { jobsOf } from './jobs.ts'
import { Layouts } from './layouts.ts'
import { openedSince } from './opened-since.ts'
import { remembering } from './remembering.ts'
import { Rows } from './rows.ts'
import type { Scene } from './scene.ts'
import { RowSorter } from './sort.ts'
import { Stories, type StoryOf } from './stories.ts'
import { dayTo, deafSince, OpenedToday } from './today.ts'

/** What the sheet is drawn for, beside the state. */
export interface Page extends Clocks {
  readonly words: Words
  /** Size of the place for the drawing, pixels. */
  readonly area: { readonly width: number; readonly height: number }
  readonly accountKept: boolean
  readonly act: Scene['act']
}

/** Makes the scenes of one card; what is costly to work out is remembered for that card. */
export class Selector {
  readonly #rows = new Rows()
  readonly #sorter = new RowSorter()
  readonly #layouts = new Layouts()
  readonly #jobs = remembering(jobsOf)
  readonly #stories = new Stories()
  readonly #day = remembering(dayTo)
  readonly #openedToday = new OpenedToday()

  /** @returns undefined while there is no house to show */
  select(state: CardState, page: Page): Scene | undefined {
    const { shown, keeper, tally, link, chosen, clock, deeds, walk } = state
    const { words, now, area } = page
    const house = shownHouse(state)
    if (!house || (shown === 'own' && !tally.counted)) return undefined
    const rows = this.#rows.read(state, house, now)
    const fresh = isFresh(state, page)
    const isBeaten = isBeating(keeper, page)
    const sinceHome = chosen.sinceHome ?? now
    const isHome = chosen.view === 'while-out' && chosen.told === undefined
    const way = wayOf(state, page)
    const ledger = tally.counted?.ledger
    const storyOf = this.#stories.of(state, page)
    const minute = Math.floor(now / MINUTE)
    const knownAt = link.liveAt ?? lastHeard(rows)
    const countedSince = ledger?.since === undefined ? undefined : Date.parse(ledger.since)
    const today = late(() => {
      const day = this.#day(minute * MINUTE, house.timezone)
      return { ...day, deaf: deafSince(rows, storyOf, day.from) }
    })
    return {
      now,
      words,
      when: whenIn(words.lang, house.timezone),
      house,
      rows,
      rowOf: this.#rows.of,
      inOrder: this.#sorter.sorted(rows, chosen.sort, house.sides, words.lang),
      head: headline(
        rows.map(row => row.reading),
        fresh,
      ),
      shown,
      link,
      chosen,
      deeds,
      walk,
      fresh,
      broker: brokerOf(state),
      knownAt,
      beatAt: keeper.beat?.now,
      keeperSaidAt: shown === 'kept' ? saidAt(keeper) : undefined,
      keeperNote: keeper.note,
      keeperSilent: isUsed(keeper) && !isBeaten,
      keeperAwaited: awaitsKeeper(state, now),
      heardNothing: hearsNothing(link, now),
      registerTrouble: state.register.state === 'read' ? state.register.trouble : undefined,
      otherPage: !tally.writes,
      countedSince,
      kept: tally.isKept,
      forecasts: tally.forecasts,
      clock,
      accountKept: page.accountKept,
      area,
      layout: () => (chosen.isPrinting ? this.#layouts.onPaper(house) : this.#layouts.onScreen(house, area)),
      today,
      openedToday: elevation => this.#openedToday.on(elevation, this.#rows.of, today(), storyOf),
      jobs: () => this.#jobs(rows, minute * MINUTE),
      storyOf,
      pastCells: () => pastCells(rows, storyOf),
      sinceHome,
      openedSince: isHome ? openedSince(rows, storyOf, sinceHome) : undefined,
      deafSince: isHome ? deafSince(rows, storyOf, sinceHome) : [],
      sending: sendingMarks(deeds),
      planned:
        chosen.view === 'round' && !walk.round
          ? planRound({
              stops: house.openings,
              sides: house.sides,
              startedAt: iso(now),
              ...(walk.last ? { lastRoundAt: walk.last.at } : {}),
              provenAt: Object.fromEntries(rows.map(({ opening, reading }) => [opening.mark, reading.provenAt])),
              overdue: new Set(
                rows.filter(({ reading }) => reading.doubts.includes('overdue')).map(({ opening }) => opening.mark),
              ),
              leaveOutNatural: walk.leaveOutNatural,
            })
          : undefined,
      maySay: way !== 'onlyLooks',
      notNow: isOpenWay(way) || way === 'onlyLooks' ? undefined : way,
      act: page.act,
    }
  }
}

/** When a word was last heard of any opening, milliseconds. */
function lastHeard(rows: Scene['rows']): number | undefined {
  const times = rows.flatMap(({ reading }) => (reading.last ? [Date.parse(reading.last.at)] : []))
  return times.length > 0 ? Math.max(...times) : undefined
}

/** Cells that came out, of all openings: how many sends each gave. */
const pastCells = (rows: Scene['rows'], storyOf: StoryOf): ReturnType<Scene['pastCells']> =>
  rows
    .flatMap(({ opening }) => storyOf(opening.mark)?.cells ?? [])
    .flatMap(({ sends, ended, failed = false }) =>
      ended === undefined || sends === undefined ? [] : [{ sends, died: failed }],
    )
