import type { Ledger } from '../ledger/apply.ts'
import { quietSinceOf } from '../ledger/cells.ts'
import type { Fold } from '../ledger/fold.ts'
import { DOUBTS, type Reading } from '../protocol/reading.ts'
import { own } from '../text/own.ts'
import type { HouseState, LeftByMark } from './state.ts'

type Unforecast = HouseState['unforecast']

/** All openings of which anything is known: no forecast speaks of them. */
export const allUnforecast = ({ marks }: Ledger): Unforecast => new Set(Object.keys(marks))

/**
 * Openings whose silence the forecast that was made from `before` does not speak of: what was said of them was taken
 * back since, so that the cell is an earlier one again or the silence is longer. They join those of `known`.
 */
export function unforecastSince(known: Unforecast, before: Ledger, after: Ledger): Unforecast {
  if (before.marks === after.marks) return known
  const more = Object.keys(after.marks).filter(mark => {
    const [one, other] = [own(before.marks, mark)?.fold, own(after.marks, mark)?.fold]
    return one !== other && one && other && !known.has(mark) && isTakenBack(one, other)
  })
  return more.length === 0 ? known : new Set([...known, ...more])
}

function isTakenBack(before: Fold, after: Fold): boolean {
  const longer = quietSinceOf(before, 0) - quietSinceOf(after, 0)
  return !after.spent && (longer > 0 || (longer === 0 && !isSameCell(before, after)))
}

/** What was made from an earlier ledger says nothing of a cell that was fitted, or failed its test, since. */
export function ofSameCells(left: LeftByMark, madeFrom: Ledger, ledger: Ledger): LeftByMark {
  const foldOf = ({ marks }: Ledger, mark: string) => own(marks, mark)?.fold
  const kept = Object.entries(left).filter(([mark]) => isSameCell(foldOf(madeFrom, mark), foldOf(ledger, mark)))
  return kept.length === Object.keys(left).length ? left : Object.fromEntries(kept)
}

function isSameCell(one: Fold | undefined, other: Fold | undefined): boolean {
  const isAsSpent = one?.spent === other?.spent
  return isAsSpent && one?.past.length === other?.past.length && one?.countedSince === other?.countedSince
}

/** Where no forecast speaks of a cell, nobody knows whether its silence is too long. */
export const doubted = (reading: Reading): Reading =>
  reading.position === 'no-word' || reading.doubts.includes('spent')
    ? reading
    : { ...reading, doubts: DOUBTS.filter(doubt => doubt === 'overdue' || reading.doubts.includes(doubt)) }
