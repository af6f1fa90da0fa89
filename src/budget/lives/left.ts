import { changeDate, type Figures, figuresOf } from './figures.ts'
import {
  agesOf,
  checkCell,
  checkLife,
  checkNow,
  type Forecast,
  join,
  movedAt,
  restsOn,
  type UnknownBefore,
} from './forecast.ts'
import { COUNTED_FROM_NEW, type Datum, type Lifetime, type Posterior, posteriorOf } from './posterior.ts'
import { type RateInput, rateOf } from './rate.ts'
import { type Remaining, remaining } from './remaining.ts'

/** One earlier cell of an opening. `kind` and `modelMedian` only where they differ from those of the present cell. */
export type PastCell = Lifetime & {
  readonly kind?: string
  readonly modelMedian?: number
  readonly unknownBefore?: UnknownBefore
}

/** The cell in one opening now, and those before it. */
export interface CellHistory extends RateInput {
  readonly mark: string
  /** Cells of one kind (cell and load) share what is learned of them; any text. */
  readonly kind: string
  /** Median sends of a new cell by the model. */
  readonly modelMedian: number
  /** Whether a count is known in the trade for this kind. */
  readonly countKnown: boolean
  /** The model leaves what is known of this cell: `modelMedian` is a lower bound. */
  readonly atLeast?: boolean
  /** It has sent though the model says that its load never starts: `modelMedian` is a guess. */
  readonly modelRefuted?: boolean
  /** Sends that one opening costs; default 1. */
  readonly sendsPerOpening?: number
  /** Sends of the present cell since the count began. */
  readonly sends: number
  /** Sends of the present cell before the count began; left out where it has been counted from new. */
  readonly unknownBefore?: UnknownBefore
  readonly past: readonly PastCell[]
  /** Silent for longer than the 99 % point of its own rate (`silencePoint`): nobody knows whether it still runs. */
  readonly silentBeyond99?: boolean
  /** Chance of the next send under which a cell is to be changed, above 0 and below 1. */
  readonly replaceBelow: number
}

/** A forecast, with its range at the top level too. */
export interface CellLeft extends Forecast {
  readonly p05: number
  readonly p50: number
  readonly p95: number
  /** Silent for too long to tell whether it still runs: the figures hold only if it does. */
  readonly ifRunning?: true
  /** No cell of this kind has died here and the model is a lower bound: there may be more left. */
  readonly atLeast?: true
  /** It has sent before the count began, how often is a guess. */
  readonly sentBefore?: true
}

/** Decimals with which an end of the range is shown: one under ten. The middle value is shown whole, rounded. */
export const endDigits = (openings: number): 0 | 1 => (openings > 0 && openings < 9.95 ? 1 : 0)

export interface LeftOptions {
  /** Milliseconds since the epoch. */
  readonly now: number
}

/**
 * What every cell of a house has left, those of one kind learning from each other.
 * A contact that is silent beyond the 99 % point of its rate is neither a running cell nor a dead one:
 * the others learn nothing from it, its own figures hold only if it still runs, and it is to be tested now.
 * @throws RangeError when a figure is out of its range; the message names mark and figure
 */
export function leftByMark(cells: readonly CellHistory[], { now }: LeftOptions): Record<string, CellLeft> {
  checkNow(now)
  const kinds = new Map<string, Kind>()
  for (const cell of cells) gather(kinds, cell)
  const known = new Map<string, Figures>()
  return Object.fromEntries(
    cells.map(cell => {
      const kind = kinds.get(cell.kind)!
      const figures = figuresFor(cell, kind, known)
      const { left, next, untilLow, neverLow, countOn } = figures
      const changeBy = cell.silentBeyond99 ? now : changeDate(figures, rateOf(cell), cell.replaceBelow, now)
      const result: CellLeft = {
        ...left,
        left,
        next,
        untilLow,
        ...(neverLow ? { neverLow: true as const } : {}),
        countOn,
        ...(changeBy === undefined ? {} : { changeBy }),
        restsOn: restsOn(kind.cells, kind.deaths, kind.countKnown),
        ...(cell.silentBeyond99 ? { ifRunning: true as const } : {}),
        ...(cell.unknownBefore === undefined ? {} : { sentBefore: true as const }),
        ...(cell.atLeast && kind.deaths === 0 ? { atLeast: true as const } : {}),
      }
      return [cell.mark, result]
    }),
  )
}

interface Kind {
  readonly data: Datum[]
  cells: number
  deaths: number
  /** Said by the present cells of the kind. */
  countKnown: boolean
  /** The cell that has gone furthest against its model: the grid must serve it too. */
  furthest: { modelMedian: number; sends: number; ages: ReturnType<typeof agesOf> }
  posterior?: Posterior
}

function gather(kinds: Map<string, Kind>, cell: CellHistory): void {
  const { modelMedian, sends } = cell
  try {
    checkCell(cell)
    for (const past of cell.past) checkLife(past)
    rateOf(cell)
  } catch (error) {
    throw error instanceof RangeError ? new RangeError(`${cell.mark}: ${error.message}`) : error
  }
  const kindOf = (name: string): Kind => {
    let kind = kinds.get(name)
    if (!kind) {
      const furthest = { modelMedian, sends: 0, ages: COUNTED_FROM_NEW }
      kind = { data: [], cells: 0, deaths: 0, countKnown: true, furthest }
      kinds.set(name, kind)
    }
    return kind
  }
  for (const { kind: name = cell.kind, modelMedian: model = modelMedian, unknownBefore, ...life } of cell.past) {
    const kind = kindOf(name)
    kind.data.push({ life, modelMedian: model, ages: agesOf(unknownBefore, model), cells: 1 })
    kind.cells++
    if (!('runningAt' in life)) kind.deaths++
  }
  const kind = kindOf(cell.kind)
  kind.countKnown &&= cell.countKnown
  if (cell.silentBeyond99) return
  const ages = agesOf(cell.unknownBefore, modelMedian)
  kind.data.push({ life: { runningAt: sends }, modelMedian, ages, cells: 1 })
  if (sends > 0) kind.cells++
  const { furthest } = kind
  if (sends / modelMedian > furthest.sends / furthest.modelMedian) kind.furthest = { modelMedian, sends, ages }
}

function learned(kind: Kind): Posterior {
  const { data, countKnown, furthest } = kind
  kind.posterior ??= posteriorOf(join(data), countKnown, movedAt(furthest.modelMedian, furthest.sends, furthest.ages))
  return kind.posterior
}

/**
 * What the cells of a house have taught of each kind.
 * @throws RangeError when a figure is out of its range; the message names mark and figure
 */
export function learnedByKind(cells: readonly CellHistory[]): ReadonlyMap<string, Posterior> {
  const kinds = new Map<string, Kind>()
  for (const cell of cells) gather(kinds, cell)
  return new Map([...kinds].map(([name, kind]) => [name, learned(kind)]))
}

/** What one cell has left, in sends, by what its kind has taught. */
export const cellLeft = (
  { modelMedian, sends, unknownBefore = 0, silentBeyond99 = false }: CellHistory,
  kind: Posterior,
): Remaining => remaining(kind, modelMedian, sends, agesOf(unknownBefore, modelMedian), !silentBeyond99)

function figuresFor(cell: CellHistory, kind: Kind, known: Map<string, Figures>): Figures {
  const { modelMedian, sends, unknownBefore = 0, silentBeyond99 = false, replaceBelow, sendsPerOpening = 1 } = cell
  const asked = [modelMedian, sends, unknownBefore, silentBeyond99, replaceBelow, sendsPerOpening]
  const key = JSON.stringify([cell.kind, ...asked])
  let figures = known.get(key)
  if (!figures) {
    figures = figuresOf(cellLeft(cell, learned(kind)), replaceBelow, sendsPerOpening)
    known.set(key, figures)
  }
  return figures
}
