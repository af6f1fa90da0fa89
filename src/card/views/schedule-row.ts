/** One row of the schedule, by hand: there may be hundreds, and a template for each costs a page more than the row. */
import { html, render } from 'lit'
import type { Scene } from '../select/scene.ts'
import { type Row, toneOf } from '../state/row.ts'
import { tellLeft, tellRow } from '../words/tell.ts'
import { tagClass } from './tag.ts'

/** Made once, and copied for each row. */
let blank: Node | undefined

function blankRow(): Node {
  const list = document.createElement('ol')
  const row = html`<li part="row"><button class="row-open"><span></span><span class="what"><span class="name"><bdi></bdi> <span class="left"></span></span><span class="say"> </span></span></button></li>`
  render(row, list)
  return list.firstElementChild!
}

/** Leaves alone what says the same: the page would lay it out anew. */
function write(place: Node, text: string): void {
  if (place.textContent !== text) place.textContent = text
}

/** A row with its place in the page. */
export class ScheduleRow {
  readonly item: HTMLElement
  readonly #button: HTMLElement
  readonly #tag: HTMLElement
  readonly #name: HTMLElement
  readonly #left: HTMLElement
  readonly #say: HTMLElement
  #note: HTMLElement | undefined
  #odd: HTMLElement | undefined

  constructor() {
    blank ??= blankRow()
    this.item = blank.cloneNode(true) as HTMLElement
    this.#button = this.item.firstChild as HTMLElement
    this.#tag = this.#button.firstChild as HTMLElement
    const name = this.#tag.nextSibling!.firstChild!
    this.#name = name.firstChild as HTMLElement
    this.#left = name.lastChild as HTMLElement
    this.#say = name.nextSibling as HTMLElement
  }

  /** @param isNarrow - there is room for few words */
  draw(row: Row, scene: Scene, isNarrow: boolean): void {
    const { opening, reading } = row
    const { mark } = opening
    const { main, note } = tellRow(row, { ...scene, isNarrow })
    const { odd } = reading
    this.item.className = `row ${toneOf(row)}`
    this.#button.dataset.mark = mark
    this.#button.setAttribute('aria-expanded', String(scene.chosen.told === mark))
    this.#tag.className = tagClass(opening)
    write(this.#tag, mark)
    write(this.#name, opening.name)
    write(this.#left, leftOf(row, scene))
    write(this.#say.firstChild!, main)
    this.#note = added(this.#note, this.#say, 'i', note && `, ${note}`)
    const told = odd && scene.words.say('odd', { n: odd.count, text: isolated(odd.text) })
    this.#odd = added(this.#odd, this.#say.parentElement!, 'span', told)
    if (this.#odd) this.#odd.className = 'odd'
  }
}

/** An element at the end of a place, which is there only while it has something to say. */
function added(before: HTMLElement | undefined, place: Element, name: string, text: string | undefined) {
  if (!text) before?.remove()
  if (!text) return undefined
  const there = before ?? document.createElement(name)
  write(there, text)
  if (!before) place.append(there)
  return there
}

/** What is left, in one text; on mains there is no cell to tell of. */
function leftOf(row: Row, scene: Scene): string {
  const { big, small } = tellLeft(row, scene)
  if (row.opening.power === 'mains') return big
  return small === scene.words.say('leftNone') ? small : `${big} ${small}`
}

/** Text of a topic turns nothing round but itself. */
const isolated = (text: string): string => `\u2068${text.replace(/[\u202A-\u202E\u2066-\u2069]/g, '\uFFFD')}\u2069`
