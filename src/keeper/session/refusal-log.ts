import { HOUR } from '../../text/time.ts'

/** Anybody may publish nonsense: a line in ten seconds says how much. */
export class RefusalLog {
  readonly #monotonic: () => number
  readonly #tell: (line: string) => void
  #last = Number.NEGATIVE_INFINITY
  #unsaid = 0
  /** How many in each of the last hours, the present one last. */
  #hours: { readonly hour: number; count: number }[] = []

  constructor(monotonic: () => number, tell: (line: string) => void) {
    this.#monotonic = monotonic
    this.#tell = tell
  }

  /** How many were refused in the last 24 hours, by whole hours of this keeper. */
  get lastDay(): number {
    this.#forget()
    return this.#hours.reduce((sum, { count }) => sum + count, 0)
  }

  say(lines: readonly string[]): void {
    this.#unsaid += lines.length
    const now = this.#monotonic()
    this.#count(lines.length, Math.floor(now / HOUR))
    if (lines.length === 0 || now - this.#last < 10_000) return
    this.#last = now
    const more = this.#unsaid > 1 ? ` (and ${this.#unsaid - 1} more)` : ''
    this.#unsaid = 0
    this.#tell(`${lines[0]}${more}`)
  }

  #count(refused: number, hour: number): void {
    if (refused === 0) return
    this.#forget()
    const present = this.#hours.at(-1)
    if (present?.hour === hour) present.count += refused
    else this.#hours.push({ hour, count: refused })
  }

  #forget(): void {
    const first = Math.floor(this.#monotonic() / HOUR) - 23
    this.#hours = this.#hours.filter(({ hour }) => hour >= first)
  }
}
