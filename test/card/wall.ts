/** A card in the page over a scripted world, and what a person would see of it. */
import { fixture, html } from '@open-wc/testing-helpers'
import { SashTally } from '../../src/card/sash-tally.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { EVENING, Stage } from './fixtures.ts'

if (!customElements.get('sash-tally')) customElements.define('sash-tally', SashTally)

export const HOUSE = `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { websocket: 'ws://127.0.0.1:9001' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room, west sash', room: Dye room, sender: coin, at: { side: south, floor: 0, along: 0.1 } }
  - { mark: W02, name: 'Dye room, south', room: Dye room, sender: coin, at: { side: south, floor: 0, along: 0.3 } }
  - { mark: W03, name: Attic, room: Attic, sender: coin, at: { side: east, floor: 1, along: 0.3 } }
  - { mark: D01, name: Street door, room: Entrance, kind: door, sender: yard, at: { side: south, floor: 0, along: 0.6 } }
`

export interface WallOptions {
  readonly register?: string
  readonly entries?: readonly Entry[]
  readonly now?: number
  readonly attributes?: Readonly<Record<string, string>>
  /** Size of the place in the page, pixels; default 1280 by 800. */
  readonly size?: readonly [number, number]
  /** True: no register among the children, and no sheet to wait for. */
  readonly bare?: boolean
  /** The world of an earlier card: a second page of the same tablet, or the same after a reload. */
  readonly stage?: Stage
  /** True: until when the tablet listened before is not known. */
  readonly afterGap?: boolean
  /** False: the link says nothing yet. */
  readonly live?: boolean
}

export const frame = () => new Promise<void>(done => requestAnimationFrame(() => setTimeout(done, 0)))

export async function until<T>(what: string, look: () => T | undefined | null | false, seconds = 60): Promise<T> {
  const end = performance.now() + seconds * 1000
  for (;;) {
    const found = look()
    if (found) return found
    if (performance.now() > end) throw new Error(`waited ${seconds} s for ${what}`)
    await frame()
  }
}

export class Wall {
  constructor(
    readonly card: SashTally,
    readonly stage: Stage,
  ) {}

  get root(): ShadowRoot {
    return this.card.shadowRoot!
  }
  /** Waits until what was said has been drawn. */
  async drawn(): Promise<void> {
    this.card.requestUpdate()
    await this.card.updateComplete
    await this.card.updateComplete
  }
  /** Lets time pass on the scripted clock, and the card see it. */
  async pass(milliseconds: number): Promise<void> {
    for (let left = milliseconds; left > 0; left -= 60_000) {
      this.stage.now += Math.min(left, 60_000)
      document.dispatchEvent(new Event('visibilitychange'))
    }
    await this.drawn()
  }
  text(selector: string): string {
    return (this.root.querySelector(selector)?.textContent ?? '').replace(/\s+/g, ' ').trim()
  }
  all(selector: string): string[] {
    return [...this.root.querySelectorAll(selector)].map(each => (each.textContent ?? '').replace(/\s+/g, ' ').trim())
  }
  row(mark: string): HTMLElement {
    const row = this.root.querySelector<HTMLElement>(`.row-open[data-mark="${mark}"]`)
    if (!row) throw new Error(`no row for ${mark}`)
    return row
  }
  /** What its row says, or on a walk its line. */
  says(mark: string): string {
    const ticks = [...this.root.querySelectorAll('.tick')]
    const line = ticks.find(each => each.querySelector('.tag')?.textContent === mark) ?? this.row(mark)
    return (line.querySelector('.say')?.textContent ?? '').replace(/\s+/g, ' ').trim()
  }
  marks(): string[] {
    return this.all('.row .tag')
  }
  button(label: string | RegExp): HTMLButtonElement {
    const all = [...this.root.querySelectorAll('button')]
    // What is folded away comes last: a person presses what is in sight.
    const inSight = [true, false].flatMap(isSeen => all.filter(button => button.checkVisibility() === isSeen))
    const found = inSight.find(button => {
      // Without the number of a sheet, and the smaller line under a label.
      const bare = button.cloneNode(true) as HTMLElement
      for (const each of bare.querySelectorAll('svg, small')) each.remove()
      const text = (bare.textContent ?? '').replace(/\s+/g, ' ').trim()
      return typeof label === 'string' ? text === label : label.test(text)
    })
    if (!found) throw new Error(`no button says ${label}; there are: ${this.all('button').join(' | ')}`)
    return found
  }
  async press(label: string | RegExp): Promise<void> {
    this.button(label).click()
    await this.drawn()
    await this.drawn()
  }
  /** They were opened, and are silent again: nobody has seen them shut. */
  async leaveOpen(...contacts: readonly string[]): Promise<void> {
    for (const contact of contacts) await this.hear(`ropewalk/${contact}`, 'opened')
    await this.pass(20_000)
  }
  async hear(topic: string, payload: string, more: { retain?: boolean } = {}): Promise<void> {
    this.stage.feed.hear(topic, payload, more)
    await this.drawn()
  }
}

export async function wall(given: WallOptions = {}): Promise<Wall> {
  if (!given.stage) {
    localStorage.clear()
    sessionStorage.clear()
  }
  const stage = given.stage ?? new Stage(given.entries ?? [], given.now ?? EVENING)
  // The tablet listened until this moment.
  if (!given.stage && !given.afterGap) localStorage.setItem('sashtally heard ropewalk/tally', String(stage.now))
  const links = stage.feeds.length
  SashTally.world = stage.world
  const [width, height] = given.size ?? [1280, 800]
  const place = await fixture<HTMLElement>(html`<div></div>`)
  place.style.inlineSize = `${width}px`
  place.style.blockSize = `${height}px`
  const card = document.createElement('sash-tally') as SashTally
  for (const [name, value] of Object.entries({ lang: 'en', sheet: 'paper', ...given.attributes })) {
    card.setAttribute(name, value)
  }
  const script = document.createElement('script')
  script.type = 'application/yaml'
  script.textContent = given.register ?? HOUSE
  if (!given.bare) card.append(script)
  place.append(card)
  const made = new Wall(card, stage)
  await until('the sheet', () => (given.bare || made.root?.querySelector('.frame')) && stage.feeds.length > links)
  if (given.live !== false) {
    stage.live()
    await made.drawn()
  }
  return made
}
