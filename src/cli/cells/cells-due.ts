import type { CellDue } from '../../emit/standards/calendar.ts'
import { livesOf } from '../../house/forecast.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { isCellKnown } from '../../ledger/cells.ts'
import type { Register } from '../../register/types.ts'
import { own } from '../../text/own.ts'
import { localOf } from '../../text/time-zone.ts'
import { cellForecasts } from './cell-forecasts.ts'
import { leftText, restsText } from './left-text.ts'

/**
 * Cells that are due, the most urgent first, each on the day by which to change it, or today where that day has passed.
 * A cell of which nothing is known is none of them.
 * @param now - milliseconds since the epoch
 */
export function cellsDue(register: Register, ledger: Ledger, now: number): CellDue[] {
  const rows = cellForecasts(register, ledger, livesOf(register, ledger, now), undefined, now)
  return rows.flatMap(({ opening, left }): CellDue[] => {
    if (!isCellKnown(own(ledger.marks, opening.mark)?.fold) || left?.changeBy === undefined) return []
    const { year, month, day } = localOf(Math.max(left.changeBy, now), register.timezone)
    const [mm, dd] = [month, day].map(number => String(number).padStart(2, '0'))
    return [{ mark: opening.mark, day: `${year}-${mm}-${dd}`, left: leftText(left), restsOn: restsText(left.restsOn) }]
  })
}
