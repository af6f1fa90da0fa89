import { type Cold, hardestSend, type Shares, wornBy } from '../budget/lives/cold.ts'
import { toStep } from '../budget/lives/send-steps.ts'
import type { CellRecord } from '../ledger/cells.ts'
import { DAY, DAYS_IN_YEAR } from '../text/time.ts'

/** In the steps that cells share; sends that the cold has not made harder stay as they were counted. */
const inSteps = (worn: number, sends: number): number => (worn > sends * (1 + 1e-9) ? toStep(worn) : sends)

/** What a cell's sends came to at room temperature, spread evenly between two times. */
const wornIn = (shares: Shares, sends: number, from: number, to: number): number =>
  inSteps(spread(shares, sends, from, to), sends)

function spread(shares: Shares, sends: number, from: number, to: number): number {
  const years = (to - from) / (DAYS_IN_YEAR * DAY)
  // one send, or all within a day: when the last was heard
  if (!(sends > 1 && years > 0))
    return wornBy(shares, { from: to, perYear: Number.POSITIVE_INFINITY, already: 0 }, sends)
  return wornBy(shares, { from, perYear: (sends - 1) / years, already: 0 }, sends)
}

const hardestIn = (shares: Shares, send: number, from: number, to: number): number =>
  inSteps(hardestSend(shares, send, from, to), send)

/** The cold that the present cell has gone through, and that ahead of it. @param perYear - sends to come */
export function coldOf(
  shares: Shares,
  { countedSince, quietSince }: CellRecord,
  sends: number,
  perYear: number,
  now: number,
): Cold {
  const since = countedSince === undefined ? quietSince : Date.parse(countedSince)
  const worn = wornIn(shares, sends, since, quietSince)
  return {
    shares,
    worn,
    hardest: Math.max(worn, hardestIn(shares, sends + 1, quietSince, now)),
    ahead: { from: now, perYear, already: sends },
  }
}

/** A life that has ended, in sends at room temperature. @param since - when the count began, milliseconds since the epoch */
export function wornLife<
  L extends { readonly runningAt: number } | { readonly failedBetween: readonly [number, number] },
>(shares: Shares, life: L, { fittedAt = 0, lastAt, endedAt }: CellRecord['past'][number], since: number): L {
  const last = lastAt ?? endedAt ?? since
  const worn = (sends: number): number => wornIn(shares, sends, Math.min(last, Math.max(fittedAt, since)), last)
  if ('runningAt' in life) {
    const runningAt = worn(life.runningAt)
    const next = Math.max(runningAt, hardestIn(shares, life.runningAt + 1, last, endedAt ?? last))
    return { ...life, runningAt, next }
  }
  const [through, failed] = life.failedBetween
  const from = worn(through)
  // when the next one was tried nobody knows: on the coldest day until the cell came out
  return { ...life, failedBetween: [from, Math.max(from + 1, hardestIn(shares, failed, last, endedAt ?? last))] }
}
