import type { ReactiveController, ReactiveControllerHost } from 'lit'

/** Keeps the focus where a person works: what they pressed may be gone once the sheet is drawn anew. */
export class Focus implements ReactiveController {
  readonly #host: ReactiveControllerHost & HTMLElement
  /** What is to have the focus after the next drawing: the first that is seen. */
  #wished: readonly string[] = []
  /** When the focus was last given to what stands beside what has gone, milliseconds of the page. */
  movedAt = Number.NEGATIVE_INFINITY
  #had: { readonly element: Element; readonly place: number; readonly isByKey: boolean } | undefined

  constructor(host: ReactiveControllerHost & HTMLElement) {
    this.#host = host
    host.addController(this)
  }

  /** Gives the focus to the first of these that is seen, after the next drawing. */
  wish(selectors: readonly string[]): void {
    this.#wished = selectors
  }

  /** A sheet that was left: no focus, for a sheet under one turns no page; what was folded open is shut, unscrolled. */
  letGo(): void {
    const root = this.#host.shadowRoot
    if (!root) return
    ;(root.activeElement as HTMLElement | SVGElement | null)?.blur()
    for (const each of root.querySelectorAll('[open]:not(.uncertain)')) each.removeAttribute('open')
    for (const each of root.querySelectorAll('.sheet, .rows, .list, .jobs, .panel')) each.scrollTop = 0
  }

  hostUpdate(): void {
    const root = this.#host.shadowRoot
    const element = root?.activeElement
    this.#had =
      root && element
        ? {
            element,
            place: element.matches('.tick-act') ? ticksOf(root).indexOf(element) : -1,
            isByKey: element.matches(':focus-visible'),
          }
        : undefined
  }

  hostUpdated(): void {
    const root = this.#host.shadowRoot
    const had = this.#had
    this.#had = undefined
    if (!root) return
    const wished = this.#wished
    this.#wished = []
    if (wished.length > 0) this.#give(wished.flatMap(selector => root.querySelector(selector) ?? []))
    else if (had && !root.activeElement) {
      this.movedAt = performance.now()
      // What a finger has pressed stays under the finger.
      this.#give(nextTo(had, root), { preventScroll: !had.isByKey })
    }
  }

  #give(elements: readonly Element[], how?: FocusOptions): void {
    const seen = elements.find(element => element.checkVisibility())
    if (seen instanceof HTMLElement || seen instanceof SVGElement) seen.focus(how)
  }
}

/** What can be ticked and is seen: a list may be folded. */
const ticksOf = (root: ShadowRoot): readonly Element[] =>
  [...root.querySelectorAll('.tick-act')].filter(each => each.checkVisibility())

/** The next thing to tick, the way back from what was said, or the heading of where one is: never another act. */
function nextTo(
  { element, place }: { readonly element: Element; readonly place: number },
  root: ShadowRoot,
): readonly Element[] {
  const ticks = ticksOf(root)
  const tick = place < 0 ? undefined : (ticks[place] ?? ticks.at(-1))
  const wasUndo = element.matches('.undo')
  const others = wasUndo ? ['.panel h2', '.headline'] : ['.deed', '.panel h2', '.headline']
  return [...(tick ? [tick] : []), ...others.flatMap(selector => [...root.querySelectorAll(selector)])]
}
