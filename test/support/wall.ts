import { existsSync, readFileSync } from 'node:fs'
import type { Page as BrowserPage } from 'puppeteer-core'
import { type Page, type PageFile, startPage } from '../../src/cli/tally/page.ts'
import { wallFiles, wallPage } from '../../src/cli/tally/wall-page.ts'
import type { Chromium } from './chromium.ts'
import { pause, until } from './until.ts'

/** A page with the one-file card, as any web server would serve it, under the strict policy. */
export async function serveWall(register: string, broker: string, more: Record<string, PageFile> = {}): Promise<Page> {
  const card = ['sash-tally.js', 'sash-tally-forecast.js'].map((name): [string, PageFile] => {
    const file = new URL(`../../dist/${name}`, import.meta.url)
    if (!existsSync(file)) throw new Error(`dist/${name} is missing: npm run build:card`)
    return [`/${name}`, { type: 'text/javascript', body: readFileSync(file, 'utf8') }]
  })
  const files = new Map<string, PageFile>([
    ['/', wallPage({ title: 'Ropewalk Studios', register: 'ropewalk.yaml', broker })],
    ['/ropewalk.yaml', { type: 'text/yaml', body: register }],
    ...card,
    ...wallFiles('Ropewalk Studios'),
    ...Object.entries(more),
  ])
  return startPage({ files, port: 0 })
}

/** What a row of the schedule says. */
export interface RowSeen {
  readonly tone: string
  readonly name: string
  readonly say: string
  readonly odd: string
}

/** The card in a browser's page, and all that the page complained of. */
export interface Wall {
  readonly page: BrowserPage
  readonly complaints: string[]
  row(mark: string): Promise<RowSeen | undefined>
  /** Waits until the row says what is looked for. */
  says(mark: string, what: RegExp, seconds?: number): Promise<RowSeen>
  text(selector: string): Promise<string>
  /** Waits until the text at the selector is so. */
  shows(selector: string, what: RegExp, seconds?: number): Promise<string>
  /** Opens the story of an opening, reads what its cell has sent, and goes back. */
  counted(mark: string): Promise<{ sends: number; openings: number }>
  press(text: string): Promise<void>
  /** Reloads the page once what was heard so far is kept. */
  reload(): Promise<void>
}

/** The card gathers what it heard for so long before it writes. */
const KEPT_MILLISECONDS = 1_000

export async function openWall(
  chromium: Chromium,
  url: string,
  prepare?: (page: BrowserPage) => Promise<void>,
): Promise<Wall> {
  const page = await chromium.newPage()
  await page.setViewport({ width: 1280, height: 800 })
  const complaints: string[] = []
  page.on('console', message => {
    // The browser itself logs every socket that a stopped broker refused.
    if (message.type() === 'error' && !/WebSocket connection to/.test(message.text())) complaints.push(message.text())
  })
  page.on('pageerror', error => complaints.push(String(error)))
  page.on('dialog', dialog => {
    complaints.push(`dialog: ${dialog.message()}`)
    void dialog.dismiss()
  })
  await prepare?.(page)
  await page.goto(url)
  await page
    .waitForFunction(() => document.querySelector('sash-tally')?.shadowRoot?.querySelector('[data-mark]'))
    .catch(error => {
      throw new Error(
        `the card drew no opening (${error.message}); the page says: ${complaints.join('\n') || 'nothing'}`,
      )
    })
  const wall: Wall = {
    page,
    complaints,
    row: mark =>
      page.evaluate(mark => {
        const button = document.querySelector('sash-tally')?.shadowRoot?.querySelector(`.row-open[data-mark="${mark}"]`)
        const read = (selector: string) =>
          button?.querySelector(selector)?.textContent?.replace(/\s+/g, ' ').trim() ?? ''
        const tone = button?.closest('li')?.className.replace('row ', '').trim() ?? ''
        return button ? { tone, name: read('bdi'), say: read('.say'), odd: read('.odd') } : undefined
      }, mark),
    async says(mark, what, seconds?) {
      let seen: RowSeen | undefined
      return until(
        `${mark} to say ${what}`,
        async () => {
          seen = await wall.row(mark)
          return seen && what.test(seen.say) && seen
        },
        seconds,
      ).catch(error => {
        throw new Error(`${error.message}; it says ${JSON.stringify(seen)}`)
      })
    },
    text: selector =>
      page.evaluate(
        selector =>
          document
            .querySelector('sash-tally')
            ?.shadowRoot?.querySelector(selector)
            ?.textContent?.replace(/\s+/g, ' ')
            .trim() ?? '',
        selector,
      ),
    async shows(selector, what, seconds?) {
      let seen = ''
      return until(
        `${selector} to show ${what}`,
        async () => {
          seen = await wall.text(selector)
          return what.test(seen)
        },
        seconds,
      )
        .then(() => seen)
        .catch(error => {
          throw new Error(`${error.message}; it shows ${JSON.stringify(seen)}`)
        })
    },
    async counted(mark) {
      const toggle = () =>
        page.evaluate(mark => {
          document
            .querySelector('sash-tally')
            ?.shadowRoot?.querySelector<HTMLElement>(`.row-open[data-mark="${mark}"]`)
            ?.click()
        }, mark)
      await toggle()
      const text = await wall.shows('.story .figures', /\d+ openings?/)
      await toggle()
      const number = (what: RegExp) => Number(what.exec(text)?.[1] ?? 0)
      return { sends: number(/(\d+) messages? from this cell/), openings: number(/(\d+) openings?/) }
    },
    async press(text) {
      const pressed = await page.evaluate(text => {
        const buttons = [...(document.querySelector('sash-tally')?.shadowRoot?.querySelectorAll('button') ?? [])]
        // Without the number of the sheet that it leads to.
        const said = (each: Element) => (each.textContent ?? '').trim().replace(/^[\dK]\s+/, '')
        const found = buttons.find(each => said(each).startsWith(text))
        found?.click()
        return found !== undefined
      }, text)
      if (!pressed) throw new Error(`no button says ${text}`)
    },
    async reload() {
      await pause(KEPT_MILLISECONDS)
      await page.reload()
    },
  }
  return wall
}
