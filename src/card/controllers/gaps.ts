import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { CardWorld } from '../world.ts'

/** Until when this tablet listened is written down this often, and when the page ends, milliseconds. */
const WRITE_MILLISECONDS = 60_000

const keyOf = (house: string) => `sashtally heard ${house}`

/**
 * A page that is not run for this long was asleep, and heard nothing: hidden pages are run at least once a minute. So
 * long, and not only for one and a half keep-alives of 30 s, may one have been deaf whose link is found dead.
 */
const ASLEEP_MILLISECONDS = 90_000

/** From when to when nobody listened here; `from` is absent where it is not known. */
export interface Gap {
  readonly from?: number
  readonly to: number
}

/**
 * Until when this tablet listened to its house, over reloads too: what opened in a gap was not heard. Of several pages
 * the one that keeps the tally writes it down: what another one hears is kept by nobody.
 */
export class Gaps implements ReactiveController {
  readonly #world: () => CardWorld
  readonly #found: (gap: Gap) => void
  readonly #writes: () => boolean
  #house: string | undefined
  #isLive = false
  /** Since when and until when this page listened without a gap. */
  #since: number | undefined
  #until: number | undefined
  #writtenAt = Number.NEGATIVE_INFINITY

  /** @param writes - whether this page keeps the tally */
  constructor(host: ReactiveControllerHost, world: () => CardWorld, found: (gap: Gap) => void, writes: () => boolean) {
    this.#world = world
    this.#found = found
    this.#writes = writes
    host.addController(this)
  }

  hostConnected(): void {
    addEventListener('pagehide', this.#write)
  }

  hostDisconnected(): void {
    removeEventListener('pagehide', this.#write)
    this.#write()
    this.#isLive = false
  }

  use(house: string): void {
    if (house === this.#house) return
    this.#write()
    this.#house = house
    this.#until = read(house)
    if (!this.#isLive) return
    // The link stands already, for another house's tally.
    this.#isLive = false
    this.#since = undefined
    this.link(true)
  }

  /** The link to the contacts came up or went down. */
  link(isLive: boolean): void {
    if (this.#house === undefined || isLive === this.#isLive) {
      this.#isLive = isLive
      return
    }
    this.#isLive = isLive
    const to = this.#world().now()
    if (isLive) {
      // Where another page keeps the tally, it listened to all before this one's first link.
      if (this.#since !== undefined || this.#writes()) this.#tell(this.#until, to)
      this.#since = to
    }
    this.#until = isLive ? to : Math.min(this.#until ?? to, to - ASLEEP_MILLISECONDS)
    this.#write()
  }

  /** This page keeps the tally from now on: what the one before it did not hear, and this one neither, was a gap. */
  takeOver(): void {
    if (this.#house === undefined || this.#since === undefined) return
    const before = read(this.#house)
    if (before === undefined || before < this.#since) this.#tell(before, this.#since)
    if (!this.#isLive && before !== undefined) this.#until = Math.max(this.#until ?? before, before)
    this.#write()
  }

  /** Once a second. */
  tick(now: number): void {
    if (!this.#isLive) return
    this.#listened(now)
    if (Math.abs(now - this.#writtenAt) >= WRITE_MILLISECONDS) this.#write()
  }

  #tell(from: number | undefined, to: number): void {
    this.#found(from === undefined ? { to } : { from, to })
  }

  /** After a sleep nothing was heard until the link has been made anew. */
  #listened(now: number): void {
    if (this.#until === undefined || now - this.#until < ASLEEP_MILLISECONDS) this.#until = now
  }

  readonly #write = () => {
    if (this.#house === undefined || this.#until === undefined || !this.#writes()) return
    this.#writtenAt = this.#world().now()
    if (this.#isLive) this.#listened(this.#writtenAt)
    try {
      localStorage.setItem(keyOf(this.#house), String(this.#until))
    } catch {
      // Without storage every loading of the page is a gap.
    }
  }
}

function read(house: string): number | undefined {
  try {
    const kept = Number(localStorage.getItem(keyOf(house)) ?? Number.NaN)
    return Number.isFinite(kept) ? kept : undefined
  } catch {
    return undefined
  }
}
