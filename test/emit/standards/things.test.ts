import { readFileSync } from 'node:fs'
import { Ajv } from 'ajv'
import addFormats from 'ajv-formats'
import ICAL from 'ical.js'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import { asyncapi } from '../../../src/emit/standards/asyncapi.ts'
import { asyncapiOfTally } from '../../../src/emit/standards/asyncapi-tally.ts'
import { calendar } from '../../../src/emit/standards/calendar.ts'
import { things } from '../../../src/emit/standards/things.ts'
import type { Register } from '../../../src/register/types.ts'
import { ropewalk } from '../houses.ts'
import { D01, house, W01, W02 } from '../ropewalk.ts'

// The published JSON Schema of Thing Descriptions 1.1: see test/fixtures/README.md.
const schema = JSON.parse(readFileSync(new URL('../../fixtures/td-1.1.schema.json', import.meta.url), 'utf8'))
const ajv = new Ajv({ strict: false, allErrors: true })
addFormats.default(ajv)
const isThing = ajv.compile(schema)

interface Form {
  readonly href: string
  readonly contentType: string
  readonly [term: `mqv:${string}`]: unknown
}
interface Thing {
  readonly id: string
  readonly title: string
  readonly properties: { readonly plain: { readonly enum: string[]; readonly forms: readonly [Form, ...Form[]] } }
  readonly events: Readonly<
    Record<string, { readonly data: object; readonly description: string; readonly forms: readonly [Form] }>
  >
}
const thingsOf = (register: Register): Thing[] => {
  const { text, problems } = things(register)
  expect(problems).toEqual([])
  return JSON.parse(text!)
}
const mixed = house([
  W01,
  W02,
  D01,
  `{ mark: W09, name: 'a "b" ü', sender: ladder }`,
  `{ mark: '007', name: 'no', sender: coin, topic: 'x y/{b}' }`,
])

describe('Thing Descriptions', () => {
  test('fit the published schema, one for each opening', () => {
    for (const register of [ropewalk(), mixed]) {
      const all = thingsOf(register)
      expect(all.map(({ title }) => title)).toEqual(register.openings.map(({ mark, name }) => `${mark} ${name}`))
      for (const thing of all) expect([thing.title, isThing(thing), isThing.errors]).toEqual([thing.title, true, null])
    }
  })
  test('are found wanting by the schema when something is wrong in them', () => {
    const [thing] = thingsOf(mixed) as [Thing]
    const { security: _, ...open } = thing as Thing & { security: string }
    expect(isThing(open)).toBe(false)
    expect(isThing({ ...thing, id: 'no uri' })).toBe(false)
    expect(isThing({ ...thing, events: { opened: { forms: [] } } })).toBe(false)
  })
  test('keep their id when an opening is renamed or moved, and no two have one', () => {
    const ids = (register: Register) => thingsOf(register).map(({ id }) => id)
    expect(new Set(ids(ropewalk())).size).toBe(ropewalk().openings.length)
    expect(ids(house([W01.replace('Dye room, south', 'x'), W02]))).toEqual(ids(mixed).slice(0, 2))
  })
  test('never put the topic into the address', () => {
    for (const { events, properties } of thingsOf(mixed))
      for (const { forms } of [...Object.values(events), properties.plain])
        expect(forms[0].href).toBe('mqtt://broker.lan:1883')
  })
  test('need a broker', () => {
    expect(things({ ...mixed, broker: {} }).problems.map(({ code }) => code)).toEqual(['no-broker'])
    expect(thingsOf({ ...mixed, broker: { mqtt: 'mqtts://broker.lan' } })[0]?.events.opened?.forms[0].href).toBe(
      'mqtts://broker.lan:8883',
    )
  })
})

test('the descriptions agree field by field: topics, words, schemas, quality of service, retained or not', () => {
  const plainMixed = house([W01, W02, D01, `{ mark: W09, name: Attic, sender: ladder }`])
  for (const register of [ropewalk(), plainMixed]) {
    const contacts = parse(asyncapi(register).text!)
    const tally = parse(asyncapiOfTally(register).text!)
    const all = thingsOf(register)
    for (const [index, { mark, name, topic, sender }] of register.openings.entries()) {
      const { title, events, properties } = all[index]!
      const channel = contacts.channels[mark]
      const { mqtt } = contacts.operations[mark].bindings
      const { lastWill } = contacts.servers[mark].bindings.mqtt
      expect([title, channel.title, contacts.servers[mark].title]).toEqual(Array(3).fill(`${mark} ${name}`))
      expect(Object.keys(events)).toEqual(Object.keys(channel.messages))
      for (const [word, { data, description, forms }] of Object.entries(events)) {
        const message = channel.messages[word]
        const isWill = word === 'rest' || word === 'gone'
        expect({ data, description, contentType: forms[0].contentType }).toEqual({
          data: message.payload,
          description: message.summary,
          contentType: message.contentType,
        })
        expect(forms[0]['mqv:filter']).toBe(topic)
        expect([channel.address, lastWill.topic]).toEqual([topic, topic])
        expect(forms[0]['mqv:qos']).toBe(String(isWill ? lastWill.qos : mqtt.qos))
        expect(forms[0]['mqv:retain']).toBe(isWill ? lastWill.retain : mqtt.retain)
        if (isWill) expect(data).toEqual({ type: 'string', const: lastWill.message })
        expect(lastWill.message).toBe(sender.words.rest ?? sender.words.gone)
        expect(forms[0].href).toBe(`mqtt://${contacts.servers[mark].host}`)
      }
      const plain = tally.channels.plain
      const [form] = properties.plain.forms
      expect(form['mqv:filter']).toBe(plain.address.replace('{mark}', mark))
      expect(properties.plain.enum).toEqual(plain.messages.plain.payload.enum)
      expect(form.contentType).toBe(plain.messages.plain.contentType)
      expect([form['mqv:qos'], form['mqv:retain']]).toEqual([
        String(tally.operations.plain.bindings.mqtt.qos),
        tally.operations.plain.bindings.mqtt.retain,
      ])
      expect(form.href).toBe(`mqtt://${tally.servers.broker.host}`)
      expect(tally.channels.opening.parameters.mark.enum[index]).toBe(mark)
      const due = { mark, day: '2026-12-31', left: '5', restsOn: 'common practice' }
      const event = new ICAL.Component(ICAL.parse(calendar(register, [due], 0))).getFirstSubcomponent('vevent')
      const summary = event!.getFirstPropertyValue('summary')
      expect(summary).toBe(`Change the cell of ${title}${sender.cell === undefined ? '' : ` (${sender.cell})`}`)
    }
  }
})

test('the nodes of a cluster are a form each, and stand in the description of the one server object', () => {
  const register = { ...ropewalk(), broker: { mqtt: 'mqtt://a.lan', mqttNext: ['mqtt://b.lan:1884'] } }
  for (const thing of thingsOf(register)) {
    expect([isThing(thing), isThing.errors]).toEqual([true, null])
    expect(thing.properties.plain.forms.map(({ href }) => href)).toEqual(['mqtt://a.lan:1883', 'mqtt://b.lan:1884'])
  }
  for (const made of [asyncapi(register), asyncapiOfTally(register)]) {
    const servers = Object.values(parse(made.text!).servers as Record<string, { host: string; description: string }>)
    for (const { host, description } of servers) {
      expect(host).toBe('a.lan:1883')
      expect(description).toContain('b.lan:1884')
    }
  }
})
