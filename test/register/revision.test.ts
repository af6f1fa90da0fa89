import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { canonicalJson, changedFacts, headerFacts, revisionOf } from '../../src/register/revision.ts'
import type { Register } from '../../src/register/types.ts'
import { sound, written } from './written.ts'

const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')
type Derived = Record<string, [topic: string, client: string, revision: string]>
// Kept from the first reading of the example: a difference here means soldered modules would have to come out.
const kept = JSON.parse(readFileSync(new URL('derived.golden.json', import.meta.url), 'utf8')) as Derived
const derived = (register: Register): Derived =>
  Object.fromEntries(register.openings.map(({ mark, topic, client, revision }) => [mark, [topic, client, revision]]))

test('topics, client ids and revisions of the example house are those that were soldered in', () => {
  expect(derived(sound(example))).toEqual(kept)
})

test('they stay when other openings are added', () => {
  const more = example.replace('openings:\n', 'openings:\n  - { mark: W00, name: New, sender: coin }\n')
  const { W00, ...rest } = derived(sound(more))
  expect(W00).toBeDefined()
  expect(rest).toEqual(kept)
})

test('they stay when openings are renamed, moved to another wall, or listed in another order', () => {
  const renamed = example.replace(/name: ('[^']*'|[^,]+),/g, "name: 'Other',").replace(/room: [^,]+,/g, '')
  expect(derived(sound(renamed))).toEqual(kept)
  const moved = example.replace(/side: \w+, floor: \d/g, 'side: west, floor: 1').replace(/along: 0\.\d+/g, 'along: 0.5')
  expect(derived(sound(moved))).toEqual(kept)
  const [above = '', below = ''] = example.split('openings:\n')
  const items = below.split(/^(?= {2}- \{)/m)
  expect(derived(sound(`${above}openings:\n${items.slice(1).reverse().join('')}`))).toEqual(kept)
})

test('they stay when the house, its thresholds, its cells or its broker page change', () => {
  const other = example
    .replace('house: Ropewalk Studios', 'house: Other')
    .replace('provenWithinDays: 180', 'provenWithinDays: 90')
    .replace(/, cellFitted: [\d-]+/g, '')
    .replace('ws://127.0.0.1:9001', 'ws://127.0.0.1:9999')
    .replace('mqtt://127.0.0.1:1883', 'mqtt://127.0.0.1')
  expect(derived(sound(other))).toEqual(kept)
})

const one = (text: string) => {
  const { openings, broker } = sound(text)
  return headerFacts(openings[0]!, broker)
}
const contact = (more: string, head = "broker: { mqtt: 'mqtt://broker.lan' }") =>
  written({ head, openings: `  - { mark: W01, name: A, sender: coin, ${more} }` })
const coin = (more: string) =>
  written({
    head: "broker: { mqtt: 'mqtt://broker.lan' }",
    senders: `  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, ${more} }`,
  })

test('a header holds what the firmware needs, and nothing else', () => {
  expect(one(coin('json: { word: /w, boots: /b }, wifi: { channel: 6 }'))).toEqual({
    mark: 'W01',
    client: 'ropewalkw01',
    topic: 'ropewalk/w01',
    words: { opened: 'opened' },
    will: { word: 'asleep', retain: true },
    keepAliveSeconds: 4,
    qos: 1,
    retain: false,
    broker: { host: 'broker.lan', port: 1883, tls: false },
    json: { word: '/w', boots: '/b' },
    wifi: { channel: 6 },
  })
})

test('a list of one address makes the header of that address', () => {
  const list = contact('kind: window', "broker: { mqtt: ['mqtt://broker.lan'] }")
  expect(one(list)).toEqual(one(contact('kind: window')))
})

test('a both-edge contact publishes its edges retained, and its will says gone', () => {
  const yard = '  coin: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }'
  expect(one(written({ senders: yard }))).toMatchObject({
    words: { opened: 'ajar', closed: 'shut' },
    will: { word: 'lost', retain: true },
    retain: true,
  })
})

test.each([
  ['topic', contact('topic: x/y'), [{ fact: 'topic', was: 'ropewalk/w01', now: 'x/y' }]],
  ['client', contact('client: x'), [{ fact: 'client', was: 'ropewalkw01', now: 'x' }]],
  ['keep-alive', coin('keepAliveSeconds: 6'), [{ fact: 'keepAliveSeconds', was: 4, now: 6 }]],
  ['qos', coin('qos: 0'), [{ fact: 'qos', was: 1, now: 0 }]],
  ['router', contact('wifi: { channel: 6 }'), [{ fact: 'wifi.channel', now: 6 }]],
  ['network', contact('wifi: { name: Ropewalk yard }'), [{ fact: 'wifi.name', now: 'Ropewalk yard' }]],
  ['payload', coin('json: { word: /w }'), [{ fact: 'json.word', now: '/w' }]],
  [
    'broker',
    contact('kind: door', "broker: { mqtt: 'mqtts://other.lan' }"),
    [
      { fact: 'broker.host', was: 'broker.lan', now: 'other.lan' },
      { fact: 'broker.port', was: 1883, now: 8883 },
      { fact: 'broker.tls', was: false, now: true },
    ],
  ],
  [
    'set of nodes',
    contact('kind: window', "broker: { mqtt: ['mqtt://broker.lan', 'mqtt://second.lan:1884'] }"),
    [
      { fact: 'nodes.0.host', now: 'second.lan' },
      { fact: 'nodes.0.port', now: 1884 },
    ],
  ],
])('another %s is another revision, and the changed facts are named', (_, text, changed) => {
  const before = one(contact('kind: window'))
  const after = one(text)
  expect(revisionOf(after)).not.toBe(revisionOf(before))
  expect(changedFacts(before, after)).toEqual(changed)
  expect(changedFacts(before, before)).toEqual([])
})

// FIPS 180-4 by node's own implementation; keys in the order of RFC 8785 section 3.2.3 (its example, from memory).
test('a revision is the head of SHA-256 over the canonical JSON', () => {
  const facts = one(coin('qos: 1'))
  const sorted = (value: unknown): unknown =>
    value !== null && typeof value === 'object'
      ? Object.fromEntries(
          Object.keys(value)
            .sort()
            .map(key => [key, sorted((value as Record<string, unknown>)[key])]),
        )
      : value
  const hash = createHash('sha256')
    .update(JSON.stringify(sorted(facts)), 'utf8')
    .digest('hex')
  expect(revisionOf(facts)).toBe(hash.slice(0, 8))
})
test('canonical JSON sorts keys by UTF-16 code units', () => {
  const keys = ['\u20ac', '\r', '\ufb33', '1', '\u{1f600}', '\u0080', '\u00f6']
  const text = canonicalJson(Object.fromEntries(keys.map(key => [key, 0])))
  expect(Object.keys(JSON.parse(text) as object)).toEqual([
    '1',
    '\r',
    '\u0080',
    '\u00f6',
    '\u20ac',
    '\u{1f600}',
    '\ufb33',
  ])
  expect(text.startsWith('{"\\r":0,"1":0')).toBe(true)
})
test('canonical JSON says the same as JSON', () => {
  fc.assert(
    fc.property(fc.jsonValue(), value => {
      expect(JSON.parse(canonicalJson(value))).toEqual(JSON.parse(JSON.stringify(value)))
    }),
    { numRuns: 100 },
  )
})
