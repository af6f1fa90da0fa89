import { byNeed, type CellNeed } from '../../budget/advice/next-cells.ts'
import { type ProofInterval, proofInterval } from '../../budget/advice/proof-interval.ts'
import type { CellHistory } from '../../budget/lives/cell-history.ts'
import { type HouseLearned, newCellLeft } from '../../budget/lives/learn-house.ts'
import { forecastOf, type HouseLeft, type Lives, slowJoinOf, toldLeft } from '../../house/forecast.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { cellsOf } from '../../ledger/cells.ts'
import { read } from '../../ledger/read.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Opening, Register } from '../../register/types.ts'
import { type Limit, limitOf } from './forecast-limit.ts'

/** One opening on a cell, with all that is said of it. */
export interface CellForecast {
  readonly opening: Opening
  readonly reading: Reading
  readonly left?: HouseLeft
  /** Days a dead contact may stay unnoticed, and what keeping that costs. */
  readonly proof?: ProofInterval
  readonly slowJoin: boolean
  /** Sends of this cell before the count began are not known; `unknown`: nor is its age. */
  readonly sentBefore?: 'guessed' | 'unknown'
  readonly limit?: Limit
}

/**
 * Every opening on a cell, the most urgent first.
 * @param accept - days that a dead contact may stay unnoticed; absent: as the register says
 * @param now - milliseconds since the epoch
 */
export function cellForecasts(
  register: Register,
  ledger: Ledger,
  lives: Lives,
  accept: number | undefined,
  now: number,
): CellForecast[] {
  const left = forecastOf(register, ledger, now, lives)
  const told = Object.fromEntries(Object.entries(left).map(([mark, cell]) => [mark, toldLeft(cell)]))
  const readings = new Map(read(ledger, now, undefined, told).map(reading => [reading.mark, reading]))
  const cells = new Map(lives.cells.map(cell => [cell.mark, cell]))
  const fitted = new Map(cellsOf(ledger, now).map(cell => [cell.mark, cell.fittedAt]))
  const fittedAt = ({ mark, cellFitted }: Opening): number | undefined =>
    fitted.get(mark) ?? (cellFitted === undefined ? undefined : Date.parse(cellFitted))
  const sendsPerCell = newCellSends(lives.learned)
  return register.openings
    .filter(opening => opening.sender.power === 'cell')
    .flatMap((opening): CellForecast[] => {
      const reading = readings.get(opening.mark)
      if (!reading) return []
      const cell = cells.get(opening.mark)
      const proof = cell && proofInterval({ ...cell, ...proofOf(opening, cell, accept, sendsPerCell(cell)) })
      const before = cell?.unknownBefore
      const own = left[opening.mark]
      const limit =
        cell && own && limitOf({ rate: cell, season: lives.season, left: own, fittedAt: fittedAt(opening), now })
      return [
        {
          opening,
          reading,
          ...(own ? { left: own } : {}),
          ...(proof ? { proof } : {}),
          ...(before === undefined ? {} : { sentBefore: before === 'unknown' ? before : 'guessed' }),
          ...(limit ? { limit } : {}),
          slowJoin: slowJoinOf(ledger, opening.mark) !== undefined,
        },
      ]
    })
    .sort((a, b) => byNeed(needOf(a), needOf(b)))
}

/** Median sends of a new cell in an opening, by what the house has taught: tests are paid for with the cells to come. */
function newCellSends(learned: HouseLearned): (cell: CellHistory) => number {
  const known = new Map<string, number>()
  return cell => {
    const { mark, kind, modelMedian, cold } = cell
    const { ways, ...rest } = learned.get(kind)!
    const key = JSON.stringify([kind, ways.map(({ places }) => places.get(mark)?.index), modelMedian, cold?.ahead])
    const sends = known.get(key) ?? newCellLeft(cell, { ways, ...rest }).quantile(0.5)
    known.set(key, sends)
    return sends
  }
}

const proofOf = (opening: Opening, cell: CellHistory, accept: number | undefined, sendsPerCell: number) => ({
  acceptDays: accept ?? opening.settings.provenWithinDays,
  provenWithinDays: opening.settings.provenWithinDays,
  sendsPerCell,
  sendsPerOpening: cell.sendsPerOpening ?? 1,
})

const needOf = ({ reading, left }: CellForecast): CellNeed => ({
  doubts: reading.doubts,
  unheardOnWalk: reading.unheardOnWalk,
  changeBy: left?.changeBy,
  next: left?.next,
})
