import type { ReactiveController, ReactiveControllerHost } from 'lit'

/** Size of the place for the drawing, in whole pixels; height 0 where it may be as high as it needs. */
export class Area implements ReactiveController {
  width = 0
  height = 0
  readonly #host: ReactiveControllerHost
  #place: Element | null = null
  #observer: ResizeObserver | undefined

  constructor(host: ReactiveControllerHost) {
    this.#host = host
    host.addController(this)
  }

  hostConnected(): void {
    this.#observer = new ResizeObserver(() => this.#measure())
    if (this.#place) this.#observer.observe(this.#place)
  }

  hostDisconnected(): void {
    this.#observer?.disconnect()
    this.#observer = undefined
  }

  watch(place: Element | null): void {
    if (place === this.#place) return
    if (this.#place) this.#observer?.unobserve(this.#place)
    this.#place = place
    if (place) this.#observer?.observe(place)
  }

  #measure(): void {
    if (!this.#place) return
    const box = this.#place.getBoundingClientRect()
    // Without a height of its own the place would grow with the drawing in it.
    const isBound = getComputedStyle(this.#place).getPropertyValue('--bound').trim() === '1'
    const [width, height] = [Math.floor(box.width), isBound ? Math.floor(box.height) : 0]
    if (width === this.width && height === this.height) return
    this.width = width
    this.height = height
    this.#host.requestUpdate()
  }
}
