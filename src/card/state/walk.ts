import type { Round } from '../../ledger/round.ts'

/** The report of a walk, as this tablet keeps it. */
export interface KeptRound {
  readonly at: string
  readonly heard: readonly string[]
  readonly leftOut: readonly string[]
  readonly missing: readonly string[]
  /** Of these, what somebody opened without a word. */
  readonly failed?: readonly string[]
  /** Of these, the others after the last that was heard or failed: no word came, or the walk ended before them. */
  readonly notReached?: readonly string[]
}

/** The walk round the house: planned, walked, reported. */
export interface Walk {
  /** Topic prefix of its house's tally. */
  readonly tally: string
  /** Whose it is in the tablet's memory: `tally`, and the addresses of its broker, with blanks between. */
  readonly house: string
  /** What this tablet keeps of a walk, as text; looked at once the house is known. */
  readonly unread: { readonly walk: string | undefined; readonly report: string | undefined } | undefined
  readonly round: Round | undefined
  readonly leaveOutNatural: boolean
  /** The report of the last walk. */
  readonly last: KeptRound | undefined
  /** The walk of which `last` is the report, on this page. */
  readonly ended: Round | undefined
}

export const noWalk: Walk = {
  tally: '',
  house: '',
  unread: undefined,
  round: undefined,
  leaveOutNatural: true,
  last: undefined,
  ended: undefined,
}
