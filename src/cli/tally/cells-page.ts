import { calendar } from '../../emit/standards/calendar.ts'
import type { RunningKeeper } from '../../keeper/begin/keep-options.ts'
import type { Register } from '../../register/types.ts'
import { MINUTE } from '../../text/time.ts'
import { cellsDue } from '../cells/cells-due.ts'
import type { PageFile } from './page.ts'

/**
 * The calendar of the cells that are due, as a page that is made when it is asked for: once a minute at most, since a
 * forecast of a whole house takes its time.
 * @param tally - undefined until it is open
 */
export function cellsPage(tally: () => RunningKeeper | undefined, now: () => number): PageFile {
  let made: { readonly register: Register; readonly at: number; readonly minute: number; readonly text: string }
  const body = (): string | undefined => {
    const open = tally()
    if (!open) return undefined
    const { register, ledger } = open.state()
    if (!register) return undefined
    const [at, minute] = [open.newest(), Math.floor(now() / MINUTE)]
    if (made?.register !== register || made.at !== at || made.minute !== minute)
      made = { register, at, minute, text: calendar(register, cellsDue(register, ledger, now()), at) }
    return made.text
  }
  return { type: 'text/calendar', body }
}
