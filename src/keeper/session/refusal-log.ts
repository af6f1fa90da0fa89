/** Anybody may publish nonsense: a line in ten seconds says how much. */
export class RefusalLog {
  readonly #monotonic: () => number
  readonly #tell: (line: string) => void
  #last = Number.NEGATIVE_INFINITY
  #unsaid = 0

  constructor(monotonic: () => number, tell: (line: string) => void) {
    this.#monotonic = monotonic
    this.#tell = tell
  }

  say(lines: readonly string[]): void {
    this.#unsaid += lines.length
    const now = this.#monotonic()
    if (lines.length === 0 || now - this.#last < 10_000) return
    this.#last = now
    const more = this.#unsaid > 1 ? ` (and ${this.#unsaid - 1} more)` : ''
    this.#unsaid = 0
    this.#tell(`${lines[0]}${more}`)
  }
}
