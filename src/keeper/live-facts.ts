import { iso } from '../text/time.ts'
import { factIn, type HasFacts } from './store/facts.ts'

/** Until when the link is known to have been live, milliseconds since the epoch: the link moves it on, others read it. */
export interface LiveUntil {
  at: number | undefined
}

function timeIn(store: HasFacts, name: 'lastLive' | 'timeKnown'): number | undefined {
  const text = factIn(store, name)
  return text ? Date.parse(text) : undefined
}

/**
 * The times that a store knows, milliseconds since the epoch: until when its keeper's link was live, and the last at which
 * the clock could be right.
 */
export function timesIn(store: HasFacts): { readonly lastLive: number | undefined; readonly last: number | undefined } {
  const [lastLive, timeKnown] = [timeIn(store, 'lastLive'), timeIn(store, 'timeKnown')]
  return { lastLive, last: lastLive && timeKnown ? Math.max(lastLive, timeKnown) : (lastLive ?? timeKnown) }
}

/** While the house is quiet, until when the link was live is written this often: a memory card wears. */
const QUIET_MILLISECONDS = 600_000

/** What goes to the disk beside the entries, by name: `lastLive` and what else is to be remembered. */
export class LiveFacts {
  readonly #liveUntil: LiveUntil
  /** Facts that are not on the disk yet. */
  #remembered: Record<string, string> = {}
  #writtenLive = Number.NaN

  constructor(liveUntil: LiveUntil) {
    this.#liveUntil = liveUntil
  }

  remember(name: string, value: string): void {
    this.#remembered[name] = value
  }

  /** As they are now. */
  now(): Record<string, string> {
    if (this.#liveUntil.at !== undefined) this.#writtenLive = this.#liveUntil.at
    return this.#written()
  }

  /** As they are now, or as they were written less than ten minutes ago: to write them again costs the disk nothing. */
  quiet(): Record<string, string> {
    const isNew = !(Math.abs((this.#liveUntil.at ?? Number.NaN) - this.#writtenLive) < QUIET_MILLISECONDS)
    return isNew ? this.now() : this.#written()
  }

  /** What was last asked for is on the disk. */
  kept(): void {
    this.#remembered = {}
  }

  #written(): Record<string, string> {
    const live = Number.isNaN(this.#writtenLive) ? {} : { lastLive: iso(this.#writtenLive) }
    return { ...this.#remembered, ...live }
  }
}
