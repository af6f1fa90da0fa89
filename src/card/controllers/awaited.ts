import type { Reading } from '../../protocol/reading.ts'

/** The words that the broker kept come at once with the link. */
const WAIT_MILLISECONDS = 10_000

/**
 * Doors that report both edges, after a time in which nobody listened: the word that the broker kept tells how they
 * stand. Until it comes they are not certain; where none comes that is written down.
 */
export class Awaited {
  readonly #until = new Map<string, number>()
  readonly #unheard: (mark: string, until: number) => void
  #timer: ReturnType<typeof setTimeout> | undefined

  /** @param unheard - nothing was heard of this mark, and nobody listened before `until` */
  constructor(unheard: (mark: string, until: number) => void) {
    this.#unheard = unheard
  }

  wait(mark: string, until: number): void {
    this.#until.set(mark, until)
    this.#timer ??= setTimeout(this.end, WAIT_MILLISECONDS)
  }

  /** @returns true when this was waited for */
  heard(mark: string): boolean {
    return this.#until.delete(mark)
  }

  /** Waits no longer. */
  readonly end = (): void => {
    clearTimeout(this.#timer)
    this.#timer = undefined
    const left = [...this.#until]
    this.#until.clear()
    for (const [mark, until] of left) this.#unheard(mark, until)
  }

  /** The readings with the doubt of those that are waited for. */
  cover(readings: ReadonlyMap<string, Reading>): ReadonlyMap<string, Reading> {
    if (this.#until.size === 0) return readings
    const covered = new Map(readings)
    for (const [mark, until] of this.#until) {
      const reading = readings.get(mark)
      if (reading?.position === 'closed') covered.set(mark, { ...reading, unheard: new Date(until).toISOString() })
    }
    return covered
  }
}
