import fc from 'fast-check'
import { load } from 'js-yaml'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { accessList, accessProblems, accounts } from '../../src/emit/broker/access.ts'
import { firmwareHeader } from '../../src/emit/firmware/firmware.ts'
import { hub } from '../../src/emit/hub/hub.ts'
import { parseProfile } from '../../src/emit/hub/profile.ts'
import { labelPage } from '../../src/emit/paper/labels.ts'
import { scheduleHtml } from '../../src/emit/paper/schedule.ts'
import { asyncapi } from '../../src/emit/standards/asyncapi.ts'
import type { Register } from '../../src/register/types.ts'
import { literalsOf } from './c-literals.ts'
import { anyHouse } from './houses.ts'
import { elementsOf } from './page-text.ts'

const { profile } = parseProfile(`place: /lookouts
as: list
entry: { heading: a, line: b, stirs: c, settles: d }
fill: { /heading: name, /line: topic, /stirs: opened, /settles: rest }
`)

/** Houses whose first opening has any client id and topic too. */
const anyClient: fc.Arbitrary<Register> = fc
  .tuple(
    anyHouse,
    fc.oneof(
      fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }),
      fc.string({ unit: 'grapheme', minLength: 1, maxLength: 30 }),
      fc.constantFrom('a\nuser hand', '# x', 'a b', '%u'),
    ),
    fc.oneof(
      fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }),
      fc.string({ unit: 'grapheme', minLength: 1, maxLength: 30 }),
      fc.constantFrom('a\ntopic write #', 'a b', ' a', 'a\r', 'pattern x', '%c/a', 'a\u2028b', '"a"', '??/'),
    ),
  )
  .map(([house, client, topic]) => ({
    ...house,
    openings: house.openings.map((opening, index) => (index ? opening : { ...opening, client, topic })),
  }))

test('any name and word comes back from the hub’s YAML, for YAML 1.1, 1.2 and another reader', () => {
  fc.assert(
    fc.property(anyHouse, register => {
      const { text } = hub(register, { profile: profile!, wire: 'contact' })
      const wanted = register.openings.map(({ name, topic, sender }) => ({
        heading: name,
        line: topic,
        stirs: sender.words.opened,
        settles: sender.words.rest ?? sender.words.closed,
      }))
      for (const read of [parse(text!), parse(text!, { version: '1.1' }), load(text!)]) {
        expect(Array.isArray(read) ? read : Object.values(read as object)[0]).toEqual(wanted)
      }
    }),
    { numRuns: 200 },
  )
})

test('any name, word, client id and topic comes back from the AsyncAPI document', () => {
  type Server = {
    title: string
    bindings: { mqtt: { clientId: string; lastWill: { topic: string; message: string } } }
  }
  type Schema = { const?: string; properties?: Record<string, Schema> }
  type Channel = { address: string; messages: { opened: { payload: Schema } } }
  let made = 0
  fc.assert(
    fc.property(anyClient, register => {
      const { text, problems } = asyncapi(register)
      if (text === undefined) {
        expect(problems.length).toBeGreaterThan(0)
        return
      }
      made++
      const read = parse(text) as {
        info: { title: string }
        servers: Record<string, Server>
        channels: Record<string, Channel>
      }
      expect(load(text)).toEqual(read)
      expect(read.info.title).toBe(`${register.house}: window and door contacts`)
      for (const { mark, name, client, topic, sender } of register.openings) {
        const { title, bindings } = read.servers[mark]!
        expect(title).toBe(`${mark} ${name}`)
        expect(bindings.mqtt).toMatchObject({
          clientId: client,
          lastWill: { topic, message: sender.words.rest ?? sender.words.gone },
        })
        const { address, messages } = read.channels[mark]!
        expect(address).toBe(topic)
        const { payload } = messages.opened
        expect(sender.json ? payload.properties?.word?.const : payload.const).toBe(sender.words.opened)
      }
    }),
    { numRuns: 200 },
  )
  expect(made).toBeGreaterThan(50)
})

test('any word, client id and topic reaches the firmware, by the rules of C, and nothing else does', () => {
  fc.assert(
    fc.property(anyClient, register => {
      for (const opening of register.openings) {
        const { mark, client, topic, sender, revision } = opening
        const { text } = firmwareHeader(opening, register)
        const read = literalsOf(text)
        expect(read).toMatchObject({
          CONTACT_MARK: mark,
          CONTACT_CLIENT_ID: client,
          CONTACT_TOPIC: topic,
          CONTACT_WORD_OPENED: sender.words.opened,
          ...(sender.words.closed === undefined ? {} : { CONTACT_WORD_CLOSED: sender.words.closed }),
          CONTACT_WILL_WORD: sender.words.rest ?? sender.words.gone,
          CONTACT_REVISION: revision,
          CONTACT_BROKER_HOST: 'broker.lan',
        })
        if (sender.json) {
          const payload = read.CONTACT_PAYLOAD_OPENED_FORMAT!.replace(/%(%|lu|u)/g, (_all, kind) =>
            kind === '%' ? '%' : '7',
          )
          expect(JSON.parse(payload)).toEqual({ word: sender.words.opened, boots: 7 })
        }
        // Whatever a text holds, the header has the directives of a plain house.
        const plain = { ...opening, name: 'Dye room', client: 'a', topic: 'a' }
        expect(directivesOf(text)).toEqual(directivesOf(firmwareHeader(plain, register).text))
      }
    }),
    { numRuns: 200 },
  )
})
const directivesOf = (text: string): string[] =>
  text.split('\n').flatMap(line => /^\s*(?:#|%:|\?\?=)\s*(\w+ \w+)/.exec(line)?.[1] ?? [])

test('any name comes back from the labels, once an opening, and adds no element', () => {
  const SHAPES = ['html', 'head', 'meta', 'title', 'style', 'body', 'svg', 'g', 'rect', 'path', 'text']
  fc.assert(
    fc.property(anyHouse, register => {
      const all = elementsOf(labelPage(register))
      expect(all.filter(({ tag }) => !SHAPES.includes(tag))).toEqual([])
      expect(all.find(({ tag }) => tag === 'title')?.text).toBe(`Labels, ${printable(register.house)}`)
      const texts = all.filter(({ tag }) => tag === 'text').map(({ text }) => text)
      for (const { mark, name, client } of register.openings) {
        // A name may be the mark of another opening: the client id tells them apart.
        const place = texts.indexOf(`client id ${client}`) - 2
        expect(texts.slice(place, place + 3)).toEqual([mark, printable(name), `client id ${client}`])
      }
    }),
    { numRuns: 100 },
  )
})

test('any name and room comes back from the schedule’s page, cell by cell', () => {
  fc.assert(
    fc.property(anyHouse, register => {
      const all = elementsOf(scheduleHtml(register))
      expect(all.find(({ tag }) => tag === 'h1')?.text).toBe(`Window schedule, ${printable(register.house)}`)
      const cells = all.filter(({ tag }) => tag === 'td').map(({ text }) => text)
      const columns = all.filter(({ tag }) => tag === 'th').length
      expect(cells).toHaveLength(columns * register.openings.length)
      expect(register.openings.map((_opening, row) => cells.slice(row * columns, row * columns + 3))).toEqual(
        register.openings.map(({ mark, name, room }) => [mark, printable(name), printable(room ?? '')]),
      )
      expect(all.filter(({ tag }) => /^(script|img|a|iframe|object)$/.test(tag))).toEqual([])
    }),
    { numRuns: 100 },
  )
})
/** Control characters that XML 1.0, section 2.2 forbids are left out of pages. */
const printable = (text: string): string =>
  // biome-ignore lint/suspicious/noControlCharactersInRegex: these are meant
  text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '')

test('an access list gives each account its topics and no other, or says why it cannot', () => {
  const tally = fc.oneof(
    fc.constant('ropewalk/tally'),
    fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }),
    fc.constantFrom('a\ntopic readwrite b\nuser eve\ntopic read b', ' a', 'a\r', 'a\u0085b', 'a b', '%u/tally'),
  )
  let made = 0
  fc.assert(
    fc.property(fc.tuple(anyClient, tally), ([house, tally]) => {
      const register = { ...house, tally }
      if (accessProblems(register).length) return
      made++
      expect(rulesOf(accessList(register))).toEqual(
        accounts(register).map(({ user, reads, writes }) => ({
          user,
          reads: [...reads].sort(),
          writes: [...writes].sort(),
        })),
      )
    }),
    { numRuns: 500 },
  )
  expect(made).toBeGreaterThan(50)
})

/** An access list read as its manual (mosquitto.conf(5), acl_file) says: a keyword, a blank, and the rest of the line. */
function rulesOf(list: string): { user: string; reads: string[]; writes: string[] }[] {
  const rules: { user: string; reads: string[]; writes: string[] }[] = []
  for (const line of list.split(/\r?\n/)) {
    if (line.trim() === '' || line.startsWith('#')) continue
    const [, keyword, rest = ''] = /^(\S+) (.*)$/s.exec(line) ?? []
    if (keyword === 'user') rules.push({ user: rest, reads: [], writes: [] })
    else if (keyword === 'topic') {
      const [, how = '', topic = ''] = /^(read|write|readwrite) (.*)$/s.exec(rest) ?? []
      if (how.startsWith('read')) rules.at(-1)!.reads.push(topic)
      if (how.endsWith('write')) rules.at(-1)!.writes.push(topic)
    } else throw new Error(`no rule: ${JSON.stringify(line)}`)
  }
  for (const { reads, writes } of rules) {
    reads.sort()
    writes.sort()
  }
  return rules
}
