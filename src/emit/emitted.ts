import type { Problem } from '../text/problem.ts'

/** What an emitter gives: a text, or every reason why not. Remarks are sentences for the person, never part of the text. */
export interface Emitted {
  /** Absent when a problem stands. */
  readonly text?: string
  /** In lines of the register. */
  readonly problems: readonly Problem[]
  readonly remarks: readonly string[]
}
