import { noChange, type ReactiveElement } from 'lit'
import { type ChildPart, Directive, directive } from 'lit/directive.js'
import { stepToward } from './list-order.ts'

/** Rows moved in one frame: the browser lays a moved row out anew. */
const MOST_MOVES = 6
/** New rows in one drawing: hundreds at once would stop the page of a slow tablet for a second. */
const MOST_NEW = 250

/** A row with its place in the page. */
interface ListRow {
  readonly item: Element
}

export interface Drawing<T, R extends ListRow> {
  keyOf(item: T): string
  newRow(): R
  draw(row: R, item: T): void
  /** Paper waits for no further drawing. */
  readonly isAtOnce: boolean
  /** All that `draw` reads beside its item: an item is drawn again only when it or one of these is another. */
  readonly ground: readonly unknown[]
}

class InOrder extends Directive {
  /** Without markers between them: the browser looks through every node of a list in which one moves. */
  readonly #rows = new Map<string, ListRow>()
  readonly #drawn = new Map<string, unknown>()
  #items: readonly unknown[] = []
  #wished: readonly string[] = []
  #standing: readonly string[] = []
  #wish: string | undefined
  #ground: readonly unknown[] = []

  render<T>(_items: readonly T[], _wish: string, _drawing: Drawing<T, ListRow>): unknown {
    return noChange
  }

  override update(container: ChildPart, [all, wish, drawing]: Parameters<this['render']>): unknown {
    const [before, keys] = [this.#items, this.#wished]
    // One that moves shifts the others by one place: these are known without a look into them.
    const places = all.map((item, i) =>
      item === before[i] ? i : item === before[i - 1] ? i - 1 : item === before[i + 1] ? i + 1 : -1,
    )
    const allKeys = all.map((item, i) => keys[places[i]!] ?? drawing.keyOf(item))
    const end = drawing.isAtOnce ? all.length : this.#endOf(allKeys)
    const [items, wished] = [all.slice(0, end), allKeys.slice(0, end)]
    if (end < all.length) drawAgain(container)
    const isSame = drawing.ground.every((each, i) => each === this.#ground[i])
    // Before any moves: a drawing that fails leaves the list as it stands.
    for (const [index, item] of items.entries()) {
      const key = wished[index]!
      if (isSame && (places[index]! >= 0 || this.#drawn.get(key) === item)) continue
      const row = this.#rows.get(key) ?? drawing.newRow()
      this.#rows.set(key, row)
      drawing.draw(row, item)
      this.#drawn.set(key, item)
    }
    // A drawing that fails is tried again.
    this.#items = items
    this.#wished = wished
    this.#ground = drawing.ground
    const stands = wished.length === this.#standing.length && wished.every((key, i) => key === this.#standing[i])
    if (wish !== this.#wish || !stands) this.#move(container, wished, wish)
    return noChange
  }

  #move(container: ChildPart, wished: readonly string[], wish: string): void {
    const most = wish === this.#wish ? MOST_MOVES : wished.length + 1
    this.#wish = wish
    const { order, placed, done } = stepToward(this.#standing, wished, most, focused(container))
    const [moved] = placed
    const row = placed.size === 1 && order.length === this.#rows.size ? this.#rows.get(moved!) : undefined
    if (row) {
      // One of the rows that stand, as most often.
      const next = this.#rows.get(order[order.indexOf(moved!) + 1]!)
      container.parentNode.insertBefore(row.item, next?.item ?? container.endNode)
    } else this.#place(container, order, placed)
    this.#standing = order
    if (!done) drawAgain(container)
  }

  /** So many rows stand after this drawing. */
  #endOf(wished: readonly string[]): number {
    let spare = MOST_NEW
    const end = wished.findIndex(key => !this.#rows.has(key) && spare-- === 0)
    return end < 0 ? wished.length : end
  }

  #place(container: ChildPart, order: readonly string[], placed: ReadonlySet<string>): void {
    const stands = new Set(order)
    for (const [key, row] of this.#rows) {
      if (stands.has(key)) continue
      row.item.remove()
      this.#rows.delete(key)
      this.#drawn.delete(key)
    }
    let next: Node | null = container.endNode
    for (const key of [...order].reverse()) {
      const { item } = this.#rows.get(key)!
      if (placed.has(key)) container.parentNode.insertBefore(item, next)
      next = item
    }
  }
}

const drawAgain = ({ options }: ChildPart): void =>
  queueMicrotask(() => (options?.host as ReactiveElement | undefined)?.requestUpdate())

/** The mark of the row that has the focus: a row that is moved would lose it. */
function focused({ parentNode }: ChildPart): string | undefined {
  const root = parentNode.getRootNode()
  const active = root instanceof ShadowRoot ? root.activeElement : null
  return active instanceof HTMLElement && parentNode.contains(active) ? active.dataset.mark : undefined
}

const ordered = directive(InOrder)

/**
 * A keyed list of rows: as few of them move as can, and in a storm a few at a time.
 * @param wish - the order that a person chose; after another one all rows move at once
 */
export const inOrder = <T, R extends ListRow>(items: readonly T[], wish: string, drawing: Drawing<T, R>): unknown =>
  ordered(items, wish, drawing as Drawing<unknown, ListRow>)
