import { readFileSync } from 'node:fs'
import type { Node } from 'estree'
import { parseAst } from 'rollup/parseAst'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type PageFile, startPage } from '../../src/cli/tally/page.ts'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'
import { until } from '../support/until.ts'

const card = readFileSync(new URL('../../dist/sash-tally.js', import.meta.url), 'utf8')

/**
 * Methods that one of Chrome 105, Safari 16.0 and Firefox 110 lacks.
 * @see MDN browser-compat-data (from memory) for the versions
 */
const NEWER: Record<string, readonly string[]> = {
  'Array.prototype': ['toSorted', 'toReversed', 'toSpliced', 'with'],
  Array: ['fromAsync'],
  Object: ['groupBy'],
  Map: ['groupBy'],
  Promise: ['withResolvers', 'try'],
  'String.prototype': ['isWellFormed', 'toWellFormed'],
  'Set.prototype': ['union', 'intersection', 'difference', 'isSubsetOf', 'isSupersetOf', 'isDisjointFrom'],
  'Iterator.prototype': ['map', 'filter', 'take', 'toArray', 'forEach', 'some', 'every', 'find'],
  URL: ['canParse', 'parse'],
}

/** Every node of a program. */
function* nodesOf(value: unknown): Generator<Node> {
  if (typeof value !== 'object' || value === null) return
  if ('type' in value && typeof value.type === 'string') yield value as Node
  for (const each of Object.values(value)) yield* nodesOf(each)
}

test('the one-file card is written in what the least browsers read', () => {
  const nodes = [...nodesOf(parseAst(card))]
  expect(nodes.length).toBeGreaterThan(10_000)
  // Safari reads blocks of a class from 16.4 on, and what stands before a match in a pattern too.
  expect(nodes.filter(({ type }) => type === 'StaticBlock')).toEqual([])
  const patterns = nodes.flatMap(node => (node.type === 'Literal' && 'regex' in node ? [node.regex] : []))
  expect(patterns.length).toBeGreaterThan(10)
  expect(patterns.filter(({ pattern, flags }) => /\(\?<[=!]/.test(pattern) || flags.includes('v'))).toEqual([])
})

describe(haveChromium.title('a browser'), { skip: haveChromium.skip }, () => {
  let chromium: Chromium
  beforeAll(async () => {
    chromium = await startChromium()
  })
  afterAll(() => chromium.close())

  /** What the page shows of the card once that holds the text, where the browser was changed first. */
  async function shown(text: string, change: string): Promise<{ said: string; errors: readonly string[] }> {
    const script = (body: string): PageFile => ({ type: 'text/javascript', body })
    const house = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://127.0.0.1:1883', websocket: 'ws://127.0.0.1:9' }
tally: ropewalk/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings: [{ mark: W01, name: Rope loft, sender: coin, at: { side: south, floor: 0, along: 0.5 } }, { mark: W02, name: Dye room, sender: coin }]
`
    const html =
      '<!doctype html><html lang="en"><title>card</title><body><script src="/change.js"></script><script src="/card.js"></script><sash-tally register="/house.yaml"></sash-tally></body></html>'
    const files = new Map<string, PageFile>([
      ['/', { type: 'text/html', body: html }],
      ['/change.js', script(change)],
      ['/card.js', script(card)],
      ['/house.yaml', { type: 'text/yaml', body: house }],
    ])
    const served = await startPage({ files, port: 0 })
    const page = await chromium.newPage()
    const errors: string[] = []
    page.on('pageerror', error => errors.push(String(error)))
    try {
      await page.goto(served.url)
      const read = () => {
        const wall = document.querySelector('sash-tally')
        return `${wall?.shadowRoot?.textContent ?? ''}${wall?.textContent ?? ''}`
      }
      const said = await until(`the page to say ${text}`, async () => {
        const all = await page.evaluate(read)
        return all.includes(text) && all
      })
      return { said, errors }
    } finally {
      await page.close()
      await served.close()
    }
  }

  test('without every newer method draws the house', async () => {
    const change = Object.entries(NEWER)
      .flatMap(([owner, names]) => names.map(name => `if (globalThis.${owner.split('.')[0]}) delete ${owner}.${name}`))
      .join('\n')
    const { said, errors } = await shown('Rope loft', change)
    expect(errors).toEqual([])
    expect(said).toContain('Dye room')
  })

  test('without container queries says that it is too old', async () => {
    const change =
      "const supports = CSS.supports.bind(CSS); CSS.supports = (...a) => !String(a).includes('container-type') && supports(...a)"
    const { said, errors } = await shown('too old', change)
    expect(errors).toEqual([])
    expect(said).toMatch(/Chrome 105, Safari 16 or Firefox 110/)
  })
})
