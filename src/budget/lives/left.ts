import { allSteps, type Steps } from '../../text/steps.ts'
import { type CellHistory, silenceOf } from './cell-history.ts'
import { changeDate, type Figures, figuresSteps } from './figures.ts'
import { checkNow, type Forecast, restsOn, untilMedian } from './forecast.ts'
import { cellLeft, type HouseLearned, type KindLearned, learnHouseSteps } from './learn-house.ts'
import { rateOf } from './rate.ts'
import { NO_SEASON, type Season } from './season.ts'
import { aliveChance } from './silence.ts'

/** A forecast, with its range at the top level too. */
export interface CellLeft extends Forecast {
  readonly p05: number
  readonly p50: number
  readonly p95: number
  /** No cell of this kind has died here and the model is a lower bound: there may be more left. */
  readonly atLeast?: true
  /** It has sent before the count began, how often is a guess. */
  readonly sentBefore?: true
}

export interface LeftOptions {
  /** Milliseconds since the epoch. */
  readonly now: number
  /** Of the openings to come; default: none. */
  readonly season?: Season
  /** What the same cells have taught, where somebody has asked for it already. */
  readonly learned?: HouseLearned
}

/**
 * What every cell of a house has left, those of one kind learning from each other, those of one opening most.
 *
 * A silent contact is neither a running cell nor a dead one: it is both, with the chances of `aliveChance`, in its own
 * figures and in what the others learn from it.
 * @throws RangeError when a figure is out of its range; the message names mark and figure
 */
export const leftByMark = (cells: readonly CellHistory[], options: LeftOptions): Record<string, CellLeft> =>
  allSteps(leftByMarkSteps(cells, options))

/** As `leftByMark`, what the cells have taught first, then cell by cell, each in many steps. */
export function* leftByMarkSteps(
  cells: readonly CellHistory[],
  { now, season = NO_SEASON, learned: known }: LeftOptions,
): Steps<Record<string, CellLeft>> {
  const learned = known ?? (yield* learnHouseSteps(cells))
  checkNow(now)
  const told = new Map<string, CellFigures>()
  const lefts = new Map<string, CellLeft>()
  // cells of one model one after the other: they share their tables
  for (const cell of [...cells].sort((a, b) => a.modelMedian - b.modelMedian)) {
    const kind = learned.get(cell.kind)!
    const figures = yield* figuresFor(cell, kind, told)
    const { left, next, alive, countOn, endMillivolts } = figures
    const openingsUntil = kind.deaths > 0 || cell.modelRefuted ? Infinity : untilMedian(cell, cell.cold)
    const untilLow = Math.min(figures.untilLow, openingsUntil)
    const neverLow = figures.neverLow && openingsUntil === Infinity
    const changeBy = changeDate({ rate: rateOf(cell), season, openings: neverLow ? Infinity : untilLow, now })
    lefts.set(cell.mark, {
      ...left,
      left,
      alive,
      next,
      untilLow,
      ...(neverLow ? { neverLow } : {}),
      countOn,
      ...(changeBy === undefined ? {} : { changeBy }),
      restsOn: {
        ...restsOn(kind.cells, kind.deaths, kind.countKnown && !cell.byWeight),
        ...(endMillivolts === undefined ? {} : { volts: endMillivolts / 1000 }),
      },
      ...(cell.unknownBefore === undefined ? {} : { sentBefore: true as const }),
      ...(cell.atLeast && kind.deaths === 0 ? { atLeast: true as const } : {}),
    })
    yield
  }
  return Object.fromEntries(cells.map(({ mark }) => [mark, lefts.get(mark)!]))
}

/** Of one cell, with the volts at which cells end in its module where it measures. */
type CellFigures = Figures & { readonly endMillivolts: number | undefined }

function* figuresFor(
  cell: CellHistory,
  kind: KindLearned,
  known: Map<string, CellFigures>,
): Steps<CellFigures & { alive: number }> {
  const { modelMedian, sends, unknownBefore = 0, replaceBelow, sendsPerOpening = 1 } = cell
  const places = kind.ways.map(way => way.places.get(cell.mark)?.index)
  const silence = silenceOf(cell)
  const inCold = cell.byWeight?.map(one => [one.modelMedian, one.cold])
  const key = `${cell.kind} ${places} ${modelMedian} ${sends} ${unknownBefore} ${silence} ${replaceBelow} ${sendsPerOpening} ${JSON.stringify([cell.volts, cell.cold, inCold])}`
  let figures = known.get(key)
  if (!figures) {
    const left = cellLeft(cell, kind)
    yield
    const alive = aliveChance(silence, left.duringSilence ?? left.surviving(1))
    const each = yield* figuresSteps(left, alive, replaceBelow, sendsPerOpening)
    figures = { ...each, endMillivolts: left.endMillivolts }
    known.set(key, figures)
  }
  return { ...figures, alive: figures.next / figures.nextIfAlive }
}
