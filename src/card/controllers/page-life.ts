import type { ReactiveController, ReactiveControllerHost } from 'lit'

/** One timer for all cards of a page, running only while one of them is in it. */
const ticks = new Set<() => void>()
let timer: ReturnType<typeof setInterval> | undefined

const ring = () => {
  for (const tick of ticks) tick()
}

function join(tick: () => void): void {
  ticks.add(tick)
  timer ??= setInterval(ring, 1000)
}

function leave(tick: () => void): void {
  ticks.delete(tick)
  if (ticks.size > 0) return
  clearInterval(timer)
  timer = undefined
}

interface On {
  /** Once a second, and when the page is seen again. */
  tick(): void
  /** The page may end. */
  leaving(): void
  printing(isPrinting: boolean): void
}

/** What the page itself goes through: time, being hidden, its end, the printer. */
export class PageLife implements ReactiveController {
  readonly #on: On

  constructor(host: ReactiveControllerHost, on: On) {
    this.#on = on
    host.addController(this)
  }

  hostConnected(): void {
    join(this.#tick)
    document.addEventListener('visibilitychange', this.#seen)
    addEventListener('pagehide', this.#leave)
    addEventListener('beforeprint', this.#print)
    addEventListener('afterprint', this.#print)
  }

  hostDisconnected(): void {
    leave(this.#tick)
    document.removeEventListener('visibilitychange', this.#seen)
    removeEventListener('pagehide', this.#leave)
    removeEventListener('beforeprint', this.#print)
    removeEventListener('afterprint', this.#print)
  }

  readonly #tick = () => this.#on.tick()

  readonly #leave = () => this.#on.leaving()

  readonly #seen = () => {
    if (document.hidden) this.#on.leaving()
    else this.#on.tick()
  }

  readonly #print = ({ type }: Event) => this.#on.printing(type === 'beforeprint')
}
