/** One problem of a register text. `line` and `column` count from 1; `length` is the width of the caret line. */
export interface Problem {
  /** Kebab-case name of the rule, e.g. `client-id-twice`. */
  readonly code: string
  readonly severity: 'error' | 'warning'
  readonly line: number
  readonly column: number
  /** Characters to underline, at least 1. */
  readonly length: number
  /** JSON Pointer (RFC 6901) of the place in the document, '' for the whole. */
  readonly path: string
  /** A sentence: the rule, what was found, what to do. */
  readonly message: string
}
