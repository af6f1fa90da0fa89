import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { CardWorld } from '../world.ts'

/** Until when this tablet listened is written down this often, and when the page ends, milliseconds. */
const WRITE_MILLISECONDS = 60_000

const keyOf = (house: string) => `sashtally heard ${house}`

/** A link that died without a word was deaf for up to one and a half keep-alives of 30 s before that was found. */
const DEAF_MILLISECONDS = 45_000
/** A page that is not run for this long was asleep, and heard nothing: hidden pages are run at least once a minute. */
const ASLEEP_MILLISECONDS = 90_000

/** From when to when nobody listened here; `from` is absent where it is not known. */
export interface Gap {
  readonly from?: number
  readonly to: number
}

/** Until when this tablet listened to its house, over reloads too: what opened in a gap was not heard. */
export class Gaps implements ReactiveController {
  readonly #world: () => CardWorld
  readonly #found: (gap: Gap) => void
  #house: string | undefined
  #isLive = false
  #until: number | undefined
  #writtenAt = Number.NEGATIVE_INFINITY

  constructor(host: ReactiveControllerHost, world: () => CardWorld, found: (gap: Gap) => void) {
    this.#world = world
    this.#found = found
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
    this.#house = house
    this.#until = read(house)
  }

  /** The link to the contacts came up or went down. */
  link(isLive: boolean): void {
    if (this.#house === undefined || isLive === this.#isLive) return
    this.#isLive = isLive
    const to = this.#world().now()
    if (isLive) this.#found(this.#until === undefined ? { to } : { from: this.#until, to })
    this.#until = isLive ? to : Math.min(this.#until ?? to, to - DEAF_MILLISECONDS)
    this.#write()
  }

  /** Once a second. */
  tick(now: number): void {
    if (!this.#isLive) return
    this.#listened(now)
    if (Math.abs(now - this.#writtenAt) >= WRITE_MILLISECONDS) this.#write()
  }

  /** After a sleep nothing was heard until the link has been made anew. */
  #listened(now: number): void {
    if (this.#until === undefined || now - this.#until < ASLEEP_MILLISECONDS) this.#until = now
  }

  readonly #write = () => {
    if (this.#house === undefined || this.#until === undefined) return
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
