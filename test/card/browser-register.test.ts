import { readFileSync } from 'node:fs'
import { rollup } from 'rollup'
import { beforeAll, expect, test, vi } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import type { Parsed } from '../../src/register/types.ts'

// The card does not name slips and has no rules of craft: without these both say the same.
vi.mock('../../src/register/slips/slips.ts', () => import('../../src/register/browser/slips.ts'))
vi.mock('../../src/register/craft-rules.ts', () => import('../../src/register/browser/craft-rules.ts'))

const root = new URL('../../', import.meta.url)
let parse: (text: string) => Parsed

beforeAll(async () => {
  const { default: config } = (await import(new URL('rollup.config.mjs', root).pathname)) as {
    default: (asked: object) => { plugins: { name: string }[] }[]
  }
  const bundle = await rollup({
    input: new URL('src/register/parse.ts', root).pathname,
    plugins: config({})[0]!.plugins.filter(plugin => plugin.name !== 'minify'),
    onwarn() {},
  })
  const { output } = await bundle.generate({ format: 'iife', name: 'card' })
  const code = output[0].code
  parse = new Function(`${code}; return card.parseRegister`)() as typeof parse
})

const example = readFileSync(new URL('examples/ropewalk.yaml', root), 'utf8')
const small = `senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Attic, sender: coin }
`
const TEXTS: Record<string, string> = {
  'the nodes of a cluster': `broker: { mqtt: [mqtt://a.lan, mqtt://b.lan], websocket: ['wss://a.lan', 'wss://b.lan'] }\n${small}`,
  'an address of a broker that is no text': `broker: { websocket: [ws://a.lan, 7], mqtt: { host: a } }\n${small}`,
  'the example house': example,
  'CRLF and a byte-order mark': `\ufeff${example.replaceAll('\n', '\r\n')}`,
  'an anchor and its alias': small
    .replace('words: {', 'words: &w {')
    .replace('}\nopenings', '}\n  other: { reports: openings, cell: CR2032, words: *w }\nopenings'),
  'an alias to nothing': small.replace('{ opened: opened, rest: asleep }', '*nobody'),
  'an alias bomb': `a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b,*b,*b,*b,*b,*b]\nd: [*c,*c,*c,*c,*c,*c,*c,*c,*c]\nopenings: *c\n`,
  'a merge key': small.replace('{ mark: W01', '{ <<: { room: Loft }, mark: W01'),
  'a key twice': small.replace('name: Attic', 'name: Attic, name: Loft'),
  'two documents': `${small}---\n${small}`,
  'a directive of YAML 1.1': `%YAML 1.1\n---\n${small}`,
  'words of YAML 1.1 under its directive': `%YAML 1.1\n---\n${small}openMinutes: 0o17\nbounceSeconds: 1:30\n`,
  'tags of YAML 1.1': small
    .replace('name: Attic', 'name: !!binary QXR0aWM=')
    .replace('opened: opened', 'opened: !!set { a }'),
  'an unknown tag': small.replace('name: Attic', 'name: !room Attic'),
  'numbers and booleans for text': small
    .replace('W01', '007')
    .replace('rest: asleep', 'rest: no')
    .replace('Attic', '0x1F'),
  'dates, octals and floats': `${small.replace('sender: coin', 'sender: coin, cellFitted: 2026-03-01, openMinutes: 1e3')}provenWithinDays: 0o17\n`,
  'block and folded text': small.replace(
    '{ mark: W01, name: Attic, sender: coin }',
    'mark: W01\n    name: >-\n      Attic\n      room\n    room: |\n      Loft\n    sender: coin',
  ),
  'quotes with escapes': small
    .replace('Attic', '"\\u00d6l \\x41 \\"loft\\""')
    .replace('opened: opened', "opened: 'it''s open'"),
  'a tab as indent': small.replace('  - {', '\t- {'),
  'brackets that are never closed': small.replace('sender: coin }', 'sender: coin'),
  'comments everywhere': small.replaceAll('\n', ' # here\n'),
  'prototype keys': `${small}__proto__: { polluted: yes }\nconstructor: 1\n`,
  'no map at all': '- a\n- b\n',
  nothing: '',
  JSON: JSON.stringify({
    senders: { c: { reports: 'openings', cell: 'CR2032', words: { opened: 'a', rest: 'b' } } },
    openings: [{ mark: 'W1', name: 'x', sender: 'c' }],
  }),
}

test.each(Object.entries(TEXTS))('the one-file card reads %s as the command line does', (_name, text) => {
  expect(parse(text)).toEqual(parseRegister(text))
})
