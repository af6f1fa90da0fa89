import { Ajv2020 } from 'ajv/dist/2020.js'
import addFormats from 'ajv-formats'
import { beforeEach, describe, expect, test } from 'vitest'
import * as z from 'zod/mini'
import { leftOf } from '../../src/house/forecast.ts'
import { jsonSchemaOf } from '../../src/protocol/json-schema.ts'
import { PAYLOADS } from '../../src/protocol/payloads.ts'
import { type TopicKind, tallyPlace } from '../../src/protocol/topics.ts'
import { atOnce, BenchHouse } from '../keeper/bench-house.ts'
import { EXAMPLES } from './readme.ts'

const ajv = new Ajv2020({ strict: true, strictTuples: false, allErrors: true })
addFormats.default(ajv)
const KINDS = Object.keys(PAYLOADS) as TopicKind[]
const isValid = Object.fromEntries(KINDS.map(kind => [kind, ajv.compile(jsonSchemaOf(kind))]))

/** As published, with no key that the schema does not have. */
const isClosed = Object.fromEntries(
  KINDS.map(kind => [kind, ajv.compile(z.toJSONSchema(PAYLOADS[kind].schema, { io: 'output' }))]),
)
const valueIn = (kind: TopicKind, text: string): unknown =>
  PAYLOADS[kind].content === 'text/plain' ? text : JSON.parse(text)

describe('what a keeper publishes', () => {
  let house: BenchHouse
  beforeEach(() => {
    house = new BenchHouse()
  })

  test('fits the JSON Schemas, every topic and every field', async () => {
    house.register = { ...house.register, alerts: { openLongMinutes: 60 } }
    await house.start({ forecast: atOnce(leftOf) })
    const words: [topic: string, payload: string][] = [
      ['ropewalk/w01', 'opened'],
      ['ropewalk/w02', 'asleep'],
      ['ropewalk/w03', '{"word":"opened","boots":7}'],
      ['ropewalk/w03', 'what?'],
      ['ropewalk/d01', 'ajar'],
      ['ropewalk/d01', 'lost'],
    ]
    for (const [topic, payload] of words) {
      await house.clock.pass(120)
      await house.say(topic, payload)
    }
    await house.person('W01', { id: 'a1', what: 'seen-closed', by: 'Rosa' })
    await house.person('D01', { id: 'a2', what: 'seen-closed' })
    await house.person('W02', { id: 'a3', what: 'cell-fitted', cell: { type: 'CR2032', millivolts: 3210 } })
    await house.person('W02', { id: 'a4', what: 'undone' })
    await house.clock.pass(86_400)
    house.feed.kill()

    const seen = new Map<TopicKind, number>()
    const fields = new Set<string>()
    for (const { topic, text } of house.broker.log) {
      const place = tallyPlace('ropewalk/tally', topic)
      if (!place || text === '') continue
      const value = valueIn(place.kind, text)
      seen.set(place.kind, (seen.get(place.kind) ?? 0) + 1)
      expect(isValid[place.kind]!(value), `${topic} ${text}\n${ajv.errorsText(isValid[place.kind]!.errors)}`).toBe(true)
      expect(isClosed[place.kind]!(value), `${topic} ${text}\n${ajv.errorsText(isClosed[place.kind]!.errors)}`).toBe(
        true,
      )
      if (place.kind === 'opening') for (const key of Object.keys(value as object)) fields.add(key)
    }
    expect(KINDS.filter(kind => !seen.has(kind))).toEqual([])
    for (const field of ['since', 'last', 'left', 'odd', 'provenAt', 'seen', 'against', 'countedSince'])
      expect(fields, `no reading with ${field}`).toContain(field)
  })
})

/** The value with one part of it taken out or replaced, for every part. */
function* changed(value: unknown): Generator<unknown> {
  if (typeof value !== 'object' || value === null) return
  const with_ = (key: string, part: unknown): unknown => {
    if (!Array.isArray(value)) return { ...value, [key]: part }
    return value.map((item, index) => (String(index) === key ? part : item))
  }
  for (const [key, part] of Object.entries(value)) {
    const { [key]: _, ...rest } = value as Record<string, unknown>
    if (!Array.isArray(value)) yield rest
    for (const other of [
      null,
      -1,
      1.5,
      1e300,
      '',
      'x',
      'x'.repeat(401),
      true,
      false,
      [],
      {},
      '2026-02-30T00:00:00.000Z',
    ])
      yield with_(key, other)
    for (const inner of changed(part)) yield with_(key, inner)
  }
}

describe('JSON Schema and program', () => {
  test.each(KINDS)('agree on every change of an example of %s', kind => {
    const { schema } = PAYLOADS[kind]
    let [taken, refused] = [0, 0]
    for (const example of EXAMPLES[kind]) {
      const value = valueIn(kind, example)
      for (const other of [value, null, [], ...changed(value)]) {
        const result = schema.safeParse(other)
        // Rules between fields are this program's alone.
        const isAlike = result.success || result.error.issues.some(({ code }) => code !== 'custom')
        if (isAlike) expect(isValid[kind]!(other), JSON.stringify(other)).toBe(result.success)
        if (result.success) taken++
        else refused++
      }
    }
    expect(taken).toBeGreaterThan(0)
    expect(refused).toBeGreaterThan(0)
  })
})
