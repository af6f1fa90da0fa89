import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Focus } from './focus.ts'

/** A key that is pressed again this soon was pressed once. */
const BOUNCE_MILLISECONDS = 350

interface On {
  /** Anywhere on the sheet. */
  touched(): void
  escape(): void
}

/** Fingers and keys on the sheet: who touches it, and what is pressed twice by mistake. */
export class Presses implements ReactiveController {
  readonly #focus: Focus
  readonly #on: On
  /** When a key last pressed something, milliseconds of the page. */
  #keyedAt = Number.NEGATIVE_INFINITY

  constructor(host: ReactiveControllerHost & HTMLElement, focus: Focus, on: On) {
    this.#focus = focus
    this.#on = on
    host.addEventListener('pointerdown', this.#touched)
    // What a screen reader presses has no pointer.
    host.addEventListener('click', this.#touched, { capture: true })
    host.addEventListener('keydown', this.#keyed)
    host.addEventListener('focusin', this.#touched)
    host.addController(this)
  }

  hostConnected(): void {}

  readonly #touched = (event: Event) => {
    this.#on.touched()
    if (event.type === 'click' && this.#isAgain(event as MouseEvent)) {
      event.stopPropagation()
      event.preventDefault()
    }
  }

  /** The second press of two: it may fall on what stood elsewhere at the first, or has got the focus since. */
  #isAgain(event: MouseEvent): boolean {
    // A page may be turned as fast as one likes.
    if ((event.composedPath()[0] as Element).closest('.page-turn')) return false
    if (event.detail > 0 || !event.isTrusted) return event.detail > 1
    const before = Math.max(this.#keyedAt, this.#focus.movedAt)
    this.#keyedAt = event.timeStamp
    return event.timeStamp - before < BOUNCE_MILLISECONDS
  }

  readonly #keyed = (event: KeyboardEvent) => {
    this.#on.touched()
    // A key that is held down ticks one opening, not those that come after it.
    if (event.repeat && event.key === 'Enter') event.preventDefault()
    if (event.key === 'Escape') this.#on.escape()
  }
}
