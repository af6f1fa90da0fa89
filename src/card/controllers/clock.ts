import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { HOUR } from '../../text/time.ts'
import type { CardWorld } from '../world.ts'

/** A clock that runs apart from the page's own timer by this much has been set, or the tablet slept. */
const JUMP_MILLISECONDS = 5_000
/** A page that is not run for this long was asleep: hidden pages are run at least once a minute. */
const ASLEEP_MILLISECONDS = 90_000
/** A jump stays on the sheet this long. */
const REMEMBER_MILLISECONDS = 12 * HOUR

type Tick = (now: number) => void

/** One timer for all cards of a page, running only while one of them is in it. */
const ticks = new Set<Tick>()
let timer: ReturnType<typeof setInterval> | undefined

const ring = () => {
  const now = Date.now()
  for (const tick of ticks) tick(now)
}

function join(tick: Tick): void {
  ticks.add(tick)
  timer ??= setInterval(ring, 1000)
}

function leave(tick: Tick): void {
  ticks.delete(tick)
  if (ticks.size > 0) return
  clearInterval(timer)
  timer = undefined
}

/** The time, once a second, and whether the tablet slept or its clock was set meanwhile. */
export class Clock implements ReactiveController {
  now: number
  /** When that was last found, and by how much; milliseconds. */
  jumped: { readonly at: number; readonly by: number } | undefined
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #each: (now: number) => void
  readonly #woke: () => void
  /** Wall time less page time. */
  #offset: number | undefined

  constructor(
    host: ReactiveControllerHost,
    world: () => CardWorld,
    on: { readonly each: (now: number) => void; readonly woke: () => void },
  ) {
    this.#host = host
    this.#world = world
    this.#each = on.each
    this.#woke = on.woke
    this.now = world().now()
    host.addController(this)
  }

  hostConnected(): void {
    this.#offset = undefined
    join(this.#tick)
    document.addEventListener('visibilitychange', this.#awake)
  }

  hostDisconnected(): void {
    leave(this.#tick)
    document.removeEventListener('visibilitychange', this.#awake)
  }

  readonly #awake = () => {
    if (!document.hidden) this.#tick()
  }

  readonly #tick = () => {
    const before = this.now
    this.now = this.#world().now()
    const offset = this.now - this.#world().elapsed()
    if (this.#offset !== undefined) {
      const set = offset - this.#offset
      const isSet = Math.abs(set) > JUMP_MILLISECONDS
      if (isSet || this.now - before > ASLEEP_MILLISECONDS) {
        this.jumped = { at: this.now, by: isSet ? set : this.now - before }
        this.#woke()
      }
    }
    this.#offset = offset
    if (this.jumped && Math.abs(this.now - this.jumped.at) > REMEMBER_MILLISECONDS) this.jumped = undefined
    this.#each(this.now)
    this.#host.requestUpdate()
  }
}
