import type { Entry } from '../protocol/entry.ts'
import { own } from '../text/own.ts'
import { apply, type Ledger } from './apply.ts'

/**
 * Whether a retained copy tells anything new. The broker sends one for each contact at every start, and the store must
 * not grow by that.
 */
export function isNews(ledger: Ledger, copy: Entry): boolean {
  const before = own(ledger.marks, copy.mark)?.fold
  if (!before) return true
  if (copy.what === 'odd' && before.odd?.text === copy.text) return false
  const after = own(apply(ledger, copy).marks, copy.mark)?.fold
  const known = ({ last: _last, odd: _odd, ...rest }: typeof before) => JSON.stringify(rest)
  return copy.what === 'odd' || after === undefined || known(before) !== known(after)
}
