import type { ReactiveController, ReactiveControllerHost } from 'lit'

/** A clock that runs apart from the page's own timer by this much has been set, or the tablet slept. */
const JUMP_MILLISECONDS = 5_000
/** A jump stays on the sheet this long. */
const REMEMBER_MILLISECONDS = 12 * 3_600_000

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

/** The time, once a second, and whether the tablet's clock was set meanwhile. */
export class Clock implements ReactiveController {
  now: number
  /** By how much, and when, the clock was last found to have been set; milliseconds. */
  jumped: { readonly at: number; readonly by: number } | undefined
  readonly #host: ReactiveControllerHost
  readonly #read: () => number
  readonly #each: (now: number) => void
  /** Wall time less page time. */
  #offset: number | undefined

  constructor(host: ReactiveControllerHost, read: () => number, each: (now: number) => void) {
    this.#host = host
    this.#read = read
    this.#each = each
    this.now = read()
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
    this.now = this.#read()
    const offset = this.now - performance.now()
    if (this.#offset !== undefined && Math.abs(offset - this.#offset) > JUMP_MILLISECONDS) {
      this.jumped = { at: this.now, by: offset - this.#offset }
    }
    this.#offset = offset
    if (this.jumped && Math.abs(this.now - this.jumped.at) > REMEMBER_MILLISECONDS) this.jumped = undefined
    this.#each(this.now)
    this.#host.requestUpdate()
  }
}
