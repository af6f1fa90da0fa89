import type { Entry } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import { NO_BOOTS } from './boots.ts'
import { CLOCK_SET, foldClockSet } from './clock-set.ts'
import { changed, type Fold, heardAt, nameOf, type PastCell, tidy, UNHEARD, untilOf } from './fold.ts'

/** Most past cells that are kept for an opening; older ones stand in the store alone. */
const PAST_CELLS = 50

/** What a person's word or a test changes; what a contact's own words change stands in `words.ts`. */
export function foldSaid(fold: Fold, entry: Entry, policy: Policy): Fold {
  const at = Date.parse(entry.at)
  const bench = entry.text === 'bench'
  const sends = fold.sends + (policy.power === 'cell' ? (entry.sends ?? 0) : 0)
  const sendsSinceBoots = fold.sendsSinceBoots + sends - fold.sends
  switch (entry.what) {
    case 'seen-closed':
      // A look that waited at the broker was taken at `until` at the latest.
      return changed(fold, {
        state: 'closed',
        since: Date.parse(entry.until ?? entry.at),
        sinceUntil: untilOf(entry) === null ? null : undefined,
        bySight: true,
        seenBy: nameOf(entry),
        // What is opened later in a test is not heard.
        unheardAt:
          fold.onTest && Date.parse(entry.until ?? entry.at) < fold.onTest.until ? fold.onTest.until : undefined,
      })
    case 'cell-fitted':
      return changed(fold, {
        past: endCell(fold, policy, at),
        // A part-used cell from another opening brings its sends.
        sends: sends - fold.sends,
        sendsThrough: sends - fold.sends,
        ...NO_BOOTS,
        countedSince: at,
        cellType: entry.cell?.type ?? policy.cell,
        millivolts: entry.cell?.millivolts,
        fittedMillivolts: entry.cell?.millivolts,
        line: undefined,
        faint: false,
        spent: false,
        low: false,
        provenAt: undefined,
        unheardOnWalk: undefined,
      })
    case 'module-fitted':
      return changed(fold, {
        ...NO_BOOTS,
        faint: false,
        spent: false,
        provenAt: undefined,
        unheardOnWalk: undefined,
        joins: undefined,
        revision: entry.revision,
        // another module measures by its own scale
        line: undefined,
        past: fold.past.map(cell => tidy<PastCell>({ ...cell, line: undefined })),
      })
    case 'flashed':
      return changed(fold, { ...NO_BOOTS, revision: entry.revision })
    case 'proved':
      return changed(fold, {
        provenAt: at,
        unheardOnWalk: undefined,
        faint: false,
        spent: bench ? fold.spent : false,
        sends,
        sendsThrough: bench ? fold.sendsThrough : sends,
        sendsSinceBoots,
        revision: entry.revision ?? fold.revision,
        millivolts: entry.millivolts ?? fold.millivolts,
      })
    case 'failed':
      return {
        ...fold,
        sends,
        sendsSinceBoots,
        spent: fold.spent || (policy.power === 'cell' && !bench),
      }
    case 'round':
      return entry.text === 'unheard' ? { ...fold, unheardOnWalk: at } : fold
    case 'on-test': {
      const until = Date.parse(entry.until ?? entry.at)
      const unheardAt = fold.state === 'closed' ? until : fold.unheardAt
      return changed(fold, { onTest: { from: at, until }, unheardAt })
    }
    case 'note':
      if (entry.by !== 'sashtally') return fold
      if (entry.text === UNHEARD && fold.state === 'closed') return { ...fold, unheardAt: at }
      if (entry.text === CLOCK_SET) return foldClockSet(fold, entry)
      return entry.text === 'low' ? { ...fold, low: true } : fold
    default:
      return fold
  }
}

function endCell(fold: Fold, policy: Policy, at: number): readonly PastCell[] {
  if (policy.power !== 'cell') return fold.past
  const failed = fold.spent || fold.faint
  const cell: PastCell = tidy<PastCell>({
    type: fold.cellType ?? policy.cell,
    sends: failed ? fold.sendsThrough : fold.sends,
    ended: failed ? 'failed' : 'changed',
    counted: fold.countedSince !== undefined,
    fittedAt: fold.countedSince,
    lastAt: heardAt(fold),
    endedAt: at,
    fittedMillivolts: fold.fittedMillivolts,
    line: fold.line,
  })
  if (cell.sends === 0 && !failed) return fold.past
  return [...fold.past, cell].slice(-PAST_CELLS)
}
