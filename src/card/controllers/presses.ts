import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Focus } from './focus.ts'

/** What keeps its place while what it says changes. */
const BOXES = '.box, .tick-place, .tick-floor'
/** A key that is pressed again this soon was pressed once. */
const BOUNCE_MILLISECONDS = 350
/** A box that has just changed what it says takes no touch for this long: the finger meant what stood there before. */
const SETTLE_MILLISECONDS = 500
/** One that names openings is read first. */
const READ_MILLISECONDS = 1500

interface On {
  /** Anywhere on the sheet. */
  touched(): void
  escape(): void
}

/** Fingers and keys on the sheet: who touches it, and what is pressed twice by mistake. */
export class Presses implements ReactiveController {
  readonly #host: HTMLElement
  readonly #focus: Focus
  /** What each box says, and since when, milliseconds of the page. */
  readonly #boxes = new WeakMap<Element, { readonly text: string; readonly at: number }>()
  readonly #on: On
  /** When a key last pressed something, milliseconds of the page. */
  #keyedAt = Number.NEGATIVE_INFINITY

  constructor(host: ReactiveControllerHost & HTMLElement, focus: Focus, on: On) {
    this.#host = host
    this.#focus = focus
    this.#on = on
    host.addEventListener('pointerdown', this.#touched)
    host.addEventListener('wheel', this.#touched, { passive: true })
    // What a screen reader presses has no pointer.
    host.addEventListener('click', this.#touched, { capture: true })
    host.addEventListener('keydown', this.#keyed)
    host.addEventListener('focusin', this.#touched)
    host.addController(this)
  }

  hostConnected(): void {}

  hostUpdated(): void {
    for (const box of this.#host.shadowRoot?.querySelectorAll(BOXES) ?? []) {
      const text = box.textContent ?? ''
      const before = this.#boxes.get(box)
      if (before?.text !== text)
        this.#boxes.set(box, { text, at: before ? performance.now() : Number.NEGATIVE_INFINITY })
    }
  }

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
    const target = event.composedPath()[0] as Element
    if (target.closest('.page-turn')) return false
    if (event.detail > 0 || !event.isTrusted) {
      const box = target.closest(BOXES)
      const changedAt = (box && this.#boxes.get(box)?.at) ?? Number.NEGATIVE_INFINITY
      const settled = target.closest('.great-act') ? READ_MILLISECONDS : SETTLE_MILLISECONDS
      return event.detail > 1 || (event.detail > 0 && performance.now() - changedAt < settled)
    }
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
