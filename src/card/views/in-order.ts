import { noChange, type ReactiveElement } from 'lit'
import { type ChildPart, Directive, directive } from 'lit/directive.js'
import { insertPart, removePart, setChildPartValue } from 'lit/directive-helpers.js'
import { stepToward } from '../order.ts'

/** Rows moved in one frame: the browser lays a moved row out anew. */
const MOST_MOVES = 12

class InOrder extends Directive {
  readonly #parts = new Map<string, ChildPart>()
  #standing: readonly string[] = []
  #wish: string | undefined
  #drawn = new Map<string, unknown>()
  #ground: readonly unknown[] = []

  render<T>(
    _items: readonly T[],
    _wish: string,
    _keyOf: (item: T) => string,
    _draw: (item: T) => unknown,
    _ground: readonly unknown[],
  ): unknown {
    return noChange
  }

  override update(container: ChildPart, [items, wish, keyOf, draw, ground]: Parameters<this['render']>): unknown {
    const wished = items.map(keyOf)
    if (
      wish !== this.#wish ||
      wished.length !== this.#standing.length ||
      wished.some((key, i) => key !== this.#standing[i])
    )
      this.#move(container, wished, wish)
    const isSame = ground.every((each, i) => each === this.#ground[i])
    this.#ground = ground
    for (const [index, item] of items.entries()) {
      const key = wished[index]!
      if (isSame && this.#drawn.get(key) === item) continue
      this.#drawn.set(key, item)
      setChildPartValue(this.#parts.get(key)!, draw(item))
    }
    return noChange
  }

  #move(container: ChildPart, wished: readonly string[], wish: string): void {
    const most = wish === this.#wish ? MOST_MOVES : wished.length + 1
    this.#wish = wish
    const { order, placed: moved, done } = stepToward(this.#standing, wished, most, focused(container))
    const stands = new Set(order)
    for (const [key, part] of this.#parts) {
      if (stands.has(key)) continue
      removePart(part)
      this.#parts.delete(key)
      this.#drawn.delete(key)
    }
    let next: ChildPart | undefined
    for (const key of [...order].reverse()) {
      if (moved.has(key)) this.#parts.set(key, insertPart(container, next, this.#parts.get(key)))
      next = this.#parts.get(key)
    }
    this.#standing = order
    if (!done) queueMicrotask(() => (container.options?.host as ReactiveElement | undefined)?.requestUpdate())
  }
}

/** The mark of the row that has the focus: a row that is moved would lose it. */
function focused({ parentNode }: ChildPart): string | undefined {
  const root = parentNode.getRootNode()
  const active = root instanceof ShadowRoot ? root.activeElement : null
  return active instanceof HTMLElement && parentNode.contains(active) ? active.dataset.mark : undefined
}

const ordered = directive(InOrder)

/**
 * A keyed list: as few rows move as can, and in a storm a few at a time.
 * @param wish - the order that a person chose; after another one all rows move at once
 * @param ground - all that `draw` reads beside its item: an item is drawn again only when it or one of these is another
 */
export const inOrder = <T>(
  items: readonly T[],
  wish: string,
  keyOf: (item: T) => string,
  draw: (item: T) => unknown,
  ground: readonly unknown[],
): unknown => ordered(items, wish, keyOf as (item: unknown) => string, draw as (item: unknown) => unknown, ground)
