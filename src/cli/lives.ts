import type { CellHistory } from '../budget/left.ts'
import type { Lifetime } from '../budget/posterior.ts'
import { policyOf } from '../house.ts'
import { applyAll, type Ledger, startLedger } from '../ledger/apply.ts'
import type { Entry } from '../ledger/types.ts'
import type { Register } from '../register/types.ts'

/** The ledger that a tally's entries add up to under this register. */
export const ledgerOf = (register: Register, entries: readonly Entry[]): Ledger =>
  applyAll(startLedger(policyOf(register)), entries)

/** All lives of one kind of cell in this house. */
export interface KindLives {
  readonly kind: string
  /** For a person: cell and load. */
  readonly label: string
  readonly modelMedian: number
  readonly countKnown: boolean
  /** Ended and running; those counted from new only, since a fit and a curve need their whole length. */
  readonly lives: Lifetime[]
  readonly marks: string[]
}

/** Lives by kind, the kind with the most openings first. */
export function livesByKind(register: Register, histories: readonly CellHistory[]): KindLives[] {
  const kinds = new Map<string, KindLives>()
  const senders = new Map(register.openings.map(({ mark, sender }) => [mark, sender]))
  const kindFor = (kind: string, cell: CellHistory): KindLives => {
    let found = kinds.get(kind)
    if (!found) {
      const { modelMedian, countKnown } = cell
      found = {
        kind,
        label: labelOf(kind, senders.get(cell.mark)?.name),
        modelMedian,
        countKnown,
        lives: [],
        marks: [],
      }
      kinds.set(kind, found)
    }
    return found
  }
  for (const cell of histories) {
    const own = kindFor(cell.kind, cell)
    own.marks.push(cell.mark)
    if (!cell.silentBeyond99 && cell.unknownBefore === undefined && cell.sends > 0)
      own.lives.push({ runningAt: cell.sends })
    for (const { kind = cell.kind, modelMedian = cell.modelMedian, unknownBefore, ...life } of cell.past) {
      if (unknownBefore === undefined) kindFor(kind, { ...cell, kind, modelMedian }).lives.push(life)
    }
  }
  return [...kinds.values()].sort((a, b) => b.marks.length - a.marks.length)
}

/** `CR2032, cold-join`, or the sender's name where its load is the person's own. */
function labelOf(kind: string, sender: string | undefined): string {
  const [cell, load] = JSON.parse(kind) as [string | null, unknown]
  return `${cell ?? 'cell'}, ${typeof load === 'string' ? load : `load of ${sender ?? 'its own'}`}`
}
