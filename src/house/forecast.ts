import { slowJoin } from '../budget/advice/slow-join.ts'
import { emptyChance } from '../budget/lives/absence.ts'
import type { CellHistory } from '../budget/lives/cell-history.ts'
import { type HouseLearned, learnHouseSteps } from '../budget/lives/learn-house.ts'
import { type CellLeft, leftByMarkSteps } from '../budget/lives/left.ts'
import { meanRate, rateOf } from '../budget/lives/rate.ts'
import { type Season, seasonDays } from '../budget/lives/season.ts'
import type { Ledger } from '../ledger/apply.ts'
import { cellsOf } from '../ledger/cells.ts'
import { OVERDUE_BELOW } from '../ledger/read.ts'
import type { Left } from '../protocol/reading.ts'
import type { Register } from '../register/types.ts'
import { own } from '../text/own.ts'
import { allSteps, type Steps } from '../text/steps.ts'
import { DAY, DAYS_IN_YEAR, iso } from '../text/time.ts'
import { historiesOf, lastHeard, seasonOf } from './cell-histories.ts'
import { modelOf } from './model.ts'

/**
 * What every cell has left, in openings. Make it when an entry arrives, not when something is drawn.
 * @param now - milliseconds since the epoch
 */
export const leftOf = (register: Register, ledger: Ledger, now: number): Readonly<Record<string, Left>> =>
  allSteps(leftSteps(register, ledger, now))

/** As `leftOf`, what the house has taught first, step by step, then a cell a step. */
export function* leftSteps(register: Register, ledger: Ledger, now: number): Steps<Readonly<Record<string, Left>>> {
  const lives = yield* livesSteps(register, ledger, now)
  yield
  const forecast = yield* forecastSteps(register, ledger, now, lives)
  return Object.fromEntries(
    Object.entries(forecast).map(([mark, cell]): [string, Left] => {
      const slow = slowJoinOf(ledger, mark)
      return [mark, { ...toldLeft(cell), ...(slow ? { slowJoin: slow } : {}) }]
    }),
  )
}

/** What a reading tells of a forecast. */
export function toldLeft({ left: _, untilLow, neverLow, countOn, changeBy, ...told }: HouseLeft): Left {
  return { ...told, ...(changeBy === undefined ? {} : { changeBy: iso(changeBy) }) }
}

/** Early warning: the first words of this module come later and later. */
export function slowJoinOf(ledger: Ledger, mark: string): Left['slowJoin'] {
  const joins = own(ledger.marks, mark)?.fold.joins ?? []
  const found = slowJoin(joins.map(({ at, milliseconds }) => ({ at, delayMilliseconds: milliseconds })))
  return found?.slow ? { ratio: found.ratio, words: found.words } : undefined
}

const NOTHING = { p05: 0, p50: 0, p95: 0 } as const
const NOTHING_LEFT = { ...NOTHING, left: NOTHING, next: 0, untilLow: 0, countOn: 0 } as const

/** A forecast; where the cell is more likely dead than not, how long it has been silent and how long is usual. */
export interface HouseLeft extends CellLeft {
  readonly silence?: NonNullable<Left['silence']>
}

/** The cells of a house, present and past, and what they have taught. */
export interface Lives {
  readonly season: Season
  readonly cells: readonly CellHistory[]
  readonly learned: HouseLearned
}

export const livesOf = (register: Register, ledger: Ledger, now: number): Lives =>
  allSteps(livesSteps(register, ledger, now))

function* livesSteps(register: Register, ledger: Ledger, now: number): Steps<Lives> {
  const season = seasonOf(register, ledger, now)
  yield
  const cells = historiesOf(register, ledger, now, season)
  yield
  return { season, cells, learned: yield* learnHouseSteps(cells) }
}

/** Days for which nothing at all was heard, where the house is more likely empty or cut off than not. */
export function emptyDays({ cells, season }: Lives, ledger: Ledger, now: number): number | undefined {
  const last = lastHeard(ledger, now)
  return emptyChance(cells, seasonDays(last, now, season)) > 0.5 ? (now - last) / DAY : undefined
}

/** As `leftOf`, with until when the next opening can be relied on and by when to change the cell. */
export const forecastOf = (
  register: Register,
  ledger: Ledger,
  now: number,
  lives: Lives = livesOf(register, ledger, now),
): Readonly<Record<string, HouseLeft>> => allSteps(forecastSteps(register, ledger, now, lives))

function* forecastSteps(
  register: Register,
  ledger: Ledger,
  now: number,
  { cells, ...known }: Lives,
): Steps<Readonly<Record<string, HouseLeft>>> {
  const histories = new Map(cells.map(cell => [cell.mark, cell]))
  const result: Record<string, HouseLeft> = { ...(yield* leftByMarkSteps(cells, { now, ...known })) }
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  for (const { mark, type, spent, quietSince } of cellsOf(ledger, now)) {
    const opening = openings.get(mark)
    const cell = result[mark]
    const history = histories.get(mark)
    if (!cell) {
      const neverStarts = opening !== undefined && modelOf(opening, type) !== undefined
      const restsOn = { source: 'practice', assumed: true, cells: 0, deaths: 0 } as const
      if (neverStarts) result[mark] = { ...NOTHING_LEFT, alive: 1, restsOn }
    } else if (spent) {
      const before = cell.sentBefore ? { sentBefore: true as const } : {}
      result[mark] = { ...NOTHING_LEFT, alive: 0, changeBy: now, ...before, restsOn: cell.restsOn }
    } else if (history && cell.alive < OVERDUE_BELOW) {
      const silence = silenceTold(history, (now - quietSince) / DAY)
      if (silence) result[mark] = { ...cell, silence }
    }
  }
  return result
}

/** For a person: days as the calendar has them, and the usual gap at this time of the year. */
function silenceTold(cell: CellHistory, days: number): NonNullable<Left['silence']> | undefined {
  const rate = rateOf(cell)
  if (!rate || !cell.quietDays) return undefined
  return { days, usualDays: ((DAYS_IN_YEAR / meanRate(rate)) * days) / cell.quietDays }
}
