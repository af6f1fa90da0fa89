import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { Parser } from '@asyncapi/parser'
import { Ajv } from 'ajv'
import addFormats from 'ajv-formats'
import { load as loadOther } from 'js-yaml'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { asyncapiOfTally } from '../../../src/emit/standards/asyncapi-tally.ts'
import { PAYLOADS } from '../../../src/protocol/payloads.ts'
import { type TopicKind, tallyPlace } from '../../../src/protocol/topics.ts'
import { EXAMPLES } from '../../protocol/readme.ts'
import { ropewalk } from '../houses.ts'
import { house, W01 } from '../ropewalk.ts'

const require = createRequire(import.meta.url)
// The published JSON Schema of AsyncAPI 3.1.0, with its MQTT bindings 0.2.0.
const schema = JSON.parse(readFileSync(require.resolve('@asyncapi/specs/schemas/3.1.0-without-$id.json'), 'utf8'))
const ajv = new Ajv({ strict: false, allErrors: true })
addFormats.default(ajv)
const isAsyncApi = ajv.compile(schema)
const KINDS = Object.keys(PAYLOADS) as TopicKind[]

const text = asyncapiOfTally(ropewalk()).text!
const document = parse(text)

test('the reference parser finds no error and the published schema none either', async () => {
  const { document: read, diagnostics } = await new Parser().parse(text)
  expect(diagnostics.filter(({ severity }) => severity === 0)).toEqual([])
  expect(read?.channels().all()).toHaveLength(KINDS.length)
  expect(read?.operations().all()).toHaveLength(KINDS.length)
  isAsyncApi(document)
  expect(isAsyncApi.errors ?? []).toEqual([])
  expect(isAsyncApi(parse(text.replace('qos: 1', 'qos: "1"')))).toBe(false)
})

test('every topic stands with its place, its kind, who writes it and whether it is retained', () => {
  expect(Object.keys(document.channels)).toEqual(KINDS)
  for (const kind of KINDS) {
    const { address, parameters = {} } = document.channels[kind]
    const topic = address.replace('{mark}', 'W02').replace('{id}', 'an-id')
    expect(tallyPlace('ropewalk/tally', topic)?.kind).toBe(kind)
    expect(Object.keys(parameters).map(name => `{${name}}`)).toEqual(address.match(/\{\w+\}/g) ?? [])
    expect(document.operations[kind]).toMatchObject({
      action: PAYLOADS[kind].writer === 'hand' ? 'receive' : 'send',
      bindings: { mqtt: { qos: 1, retain: PAYLOADS[kind].retained } },
    })
  }
  expect(document.channels.opening.parameters.mark.enum).toEqual(ropewalk().openings.map(({ mark }) => mark))
  expect(document.operations.say.reply).toEqual({ channel: { $ref: '#/channels/heard' } })
})

test.each(KINDS)('the schema of %s takes the examples of the wire’s own page, and refuses what is none', kind => {
  const { payload, contentType } = document.channels[kind].messages[kind]
  const strict = new Ajv({
    allErrors: true,
    allowUnionTypes: true,
    strictTuples: false,
    formats: { 'date-time': true },
  })
  const fits = strict.compile(payload)
  expect(EXAMPLES[kind].length).toBeGreaterThan(0)
  for (const example of EXAMPLES[kind]) {
    const value = contentType === 'text/plain' ? example : JSON.parse(example)
    expect([example, fits(value), fits.errors]).toEqual([example, true, null])
  }
  expect(fits({ v: 2 })).toBe(false)
  expect(fits('shut')).toBe(false)
})

test('a tally whose topic holds a brace, and a house without a broker, are refused', () => {
  expect(asyncapiOfTally({ ...house([W01]), tally: 'a/{b}' }).problems.map(({ code }) => code)).toEqual(['topic-brace'])
  expect(asyncapiOfTally({ ...house([W01]), broker: {} }).problems.map(({ code }) => code)).toEqual(['no-broker'])
})

test('readers of YAML 1.1, YAML 1.2 and another library read the same values', () => {
  expect(parse(text, { version: '1.1' })).toEqual(document)
  expect(loadOther(text)).toEqual(document)
})
