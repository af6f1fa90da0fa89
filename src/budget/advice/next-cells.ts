/** Which cell needs something first: one rule for the wall and for `forecast`. */

/** What the order goes by. */
export interface CellNeed {
  readonly doubts: readonly string[]
  /** When a walk ended that passed the contact by and did not hear it; absent: none. */
  readonly unheardOnWalk?: string | undefined
  /** When to change the cell, milliseconds since the epoch; absent: nobody knows. */
  readonly changeBy?: number | undefined
  /** Chance that the next opening gets through, 0 to 1; absent: nobody knows. */
  readonly next?: number | undefined
}

/** What asks for a cell or a test now, the most urgent first; all but one are doubts. */
const NOW = ['spent', 'unheard', 'faint', 'overdue', 'low'] as const

/** 0 is the most urgent; `NOW.length`: nothing is to be done now. */
const rank = ({ doubts, unheardOnWalk }: CellNeed): number => {
  const place = NOW.findIndex(why => (why === 'unheard' ? unheardOnWalk !== undefined : doubts.includes(why)))
  return place < 0 ? NOW.length : place
}

export const isNeededNow = (need: CellNeed): boolean => rank(need) < NOW.length

/** Those that failed, those that a walk did not hear, those that may be dead, those that are low; then by the day, and by the least sure. */
export const byNeed = (a: CellNeed, b: CellNeed): number =>
  rank(a) - rank(b) ||
  compare(a.changeBy ?? Number.POSITIVE_INFINITY, b.changeBy ?? Number.POSITIVE_INFINITY) ||
  (a.next ?? 2) - (b.next ?? 2)

/** Two that nobody knows are alike. */
const compare = (a: number, b: number): number => (a === b ? 0 : a - b)
