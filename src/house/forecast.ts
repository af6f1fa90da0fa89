import { slowJoin } from '../budget/advice/slow-join.ts'
import { type CellLeft, leftByMark } from '../budget/lives/left.ts'
import type { Ledger } from '../ledger/apply.ts'
import { cellsOf } from '../ledger/cells.ts'
import type { Left } from '../protocol/reading.ts'
import type { Register } from '../register/types.ts'
import { own } from '../text/own.ts'
import { historiesOf } from './cell-histories.ts'
import { modelOf } from './model.ts'

/**
 * What every cell has left, in openings. Make it when an entry arrives, not when something is drawn.
 * @param now - milliseconds since the epoch
 */
export function leftOf(register: Register, ledger: Ledger, now: number): Readonly<Record<string, Left>> {
  return Object.fromEntries(
    Object.entries(forecastOf(register, ledger, now)).map(([mark, cell]): [string, Left] => {
      const slow = slowJoinOf(ledger, mark)
      return [mark, { ...toldLeft(cell), ...(slow ? { slowJoin: slow } : {}) }]
    }),
  )
}

/** What a reading tells of a forecast. */
export function toldLeft({ left: _, untilLow, neverLow, countOn, changeBy, ...told }: CellLeft): Left {
  return told
}

/** Early warning: the first words of this module come later and later. */
export function slowJoinOf(ledger: Ledger, mark: string): Left['slowJoin'] {
  const joins = own(ledger.marks, mark)?.fold.joins ?? []
  const found = slowJoin(joins.map(({ at, milliseconds }) => ({ at, delayMilliseconds: milliseconds })))
  return found?.slow ? { ratio: found.ratio, words: found.words } : undefined
}

const NOTHING = { p05: 0, p50: 0, p95: 0 } as const
const NOTHING_LEFT = { ...NOTHING, left: NOTHING, next: 0, untilLow: 0, countOn: 0 } as const

/** As `leftOf`, with until when the next opening can be relied on and by when to test or change. */
export function forecastOf(register: Register, ledger: Ledger, now: number): Readonly<Record<string, CellLeft>> {
  const result: Record<string, CellLeft> = { ...leftByMark(historiesOf(register, ledger, now), { now }) }
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  for (const { mark, type } of cellsOf(ledger, now)) {
    const opening = openings.get(mark)
    const cell = result[mark]
    const neverStarts = !cell && opening !== undefined && modelOf(opening, type) !== undefined
    const isSpent = cell && own(ledger.marks, mark)?.fold.spent
    const restsOn = cell?.restsOn ?? ({ source: 'practice', assumed: true, cells: 0, deaths: 0 } as const)
    const before = cell?.sentBefore ? { sentBefore: true as const } : {}
    if (neverStarts || isSpent)
      result[mark] = { ...NOTHING_LEFT, ...(isSpent ? { changeBy: now } : {}), ...before, restsOn }
  }
  return result
}
