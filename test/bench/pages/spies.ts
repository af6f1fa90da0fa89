// What is noted inside the pages; each function runs in the browser.

declare global {
  interface Window {
    /** Texts of the row that is watched, and when they had been painted. */
    painted: { text: string; at: number }[]
    /** How long each drawing took, milliseconds; with its layout while `measures`. */
    drawn: number[]
    measures: boolean
    renders: number
    watched: { gaps: number[]; rendersMost: number }
    /** Milliseconds of drawing and layout from the house being known until the whole sheet stood. */
    first: number | undefined
    /** The markup that stood while the house was not known. */
    waiting: string
    /** Lengths of the long tasks since the page began, milliseconds; and what was seen, in the order of the frames. */
    started: { tasks: number[]; seen: string[] }
  }
}

/** Before the card is defined: notes each of its drawings. */
export function spyOnCard(watch: string, rows: number): void {
  window.painted = []
  window.drawn = []
  window.renders = 0
  window.waiting = ''
  const define = customElements.define.bind(customElements)
  customElements.define = (name, card, options) => {
    if (name === 'sash-tally') {
      const its = card.prototype as { performUpdate(): void }
      const perform = its.performUpdate
      let before = ''
      let sum = 0
      its.performUpdate = function (this: HTMLElement & { performUpdate(): void }) {
        const began = performance.now()
        perform.call(this)
        if (window.measures || window.first === undefined) void this.offsetHeight
        const took = performance.now() - began
        window.drawn.push(took)
        window.renders++
        const root = this.shadowRoot
        // What stands until the register has come is no part of the sheet: the reference begins on the same page.
        if (!root?.querySelector('.frame')) window.waiting = root?.innerHTML ?? ''
        else if (window.first === undefined) {
          sum += took
          const plan = root?.querySelector('.plan')
          const stands = root?.querySelectorAll('.row-open').length === rows
          if (stands && (!plan || plan.querySelector('svg'))) window.first = sum
        }
        const text = root?.querySelector(`.row-open[data-mark="${watch}"] .say`)?.textContent?.trim() ?? ''
        if (text === before) return
        before = text
        setTimeout(() => window.painted.push({ text, at: Date.now() }))
      }
    }
    define(name, card, options)
  }
}

/** From the page's beginning: its long tasks, and in which frame each part of the sheet was first seen. */
export function watchStart(): void {
  const started = { tasks: [0], seen: [] as string[] }
  window.started = started
  new PerformanceObserver(list => {
    for (const { duration } of list.getEntries()) started.tasks.push(Math.round(duration))
  }).observe({ type: 'longtask', buffered: true })
  const parts = { headline: '.headline', house: '.plan svg', row: '.row-open' }
  const frame = () => {
    const root = document.querySelector('sash-tally')?.shadowRoot
    const isNew = ([part, selector]: [string, string]) => !started.seen.includes(part) && root?.querySelector(selector)
    const seen = Object.entries(parts).filter(isNew)
    if (seen.length > 0) started.seen.push(seen.map(([part]) => part).join(' and '))
    if (!started.seen.at(-1)?.includes('row')) requestAnimationFrame(frame)
  }
  requestAnimationFrame(frame)
}

/** From now on: the gaps between frames, and the most drawings in one of them. */
export function watchFrames(): void {
  const watched = { gaps: [] as number[], rendersMost: 0 }
  window.watched = watched
  let [last, renders] = [performance.now(), window.renders]
  const frame = () => {
    const now = performance.now()
    watched.gaps.push(now - last)
    watched.rendersMost = Math.max(watched.rendersMost, window.renders - renders)
    last = now
    renders = window.renders
    if (window.watched === watched) requestAnimationFrame(frame)
  }
  requestAnimationFrame(frame)
}

/** What a person reads of the house, without how long ago that was: the same on the card and on the reference. */
export function saidByEye(): string {
  const root = document.querySelector('sash-tally')!.shadowRoot!
  const heads = ['.headline', '.counts', '.acts'].map(part => root.querySelector(part)?.textContent)
  const rows = [...root.querySelectorAll('.row')].map(
    row => `${row.className} ${row.querySelector('.say')?.textContent}`,
  )
  return [...heads, ...rows]
    .join('\n')
    .replace(/\d\d:\d\d/g, '')
    .replace(/\s+/g, ' ')
}

/** The sheet as it stands and as it was before there was a house, without what a framework leaves in it, and its style. */
export function sheetAsText(): { html: string; waiting: string; css: string } {
  const root = document.querySelector('sash-tally')!.shadowRoot!
  const css = root.adoptedStyleSheets.flatMap(sheet => [...sheet.cssRules].map(rule => rule.cssText)).join('\n')
  const [html, waiting] = [root.innerHTML, window.waiting].map(markup => markup.replace(/<!--.*?-->/g, ''))
  return { html: html!, waiting: waiting!, css }
}
