import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { Parser } from '@asyncapi/parser'
import { Ajv } from 'ajv'
import addFormats from 'ajv-formats'
import { load as loadOther } from 'js-yaml'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { asyncapi } from '../../../src/emit/standards/asyncapi.ts'
import { hear } from '../../../src/ledger/hear.ts'
import { parseRegister } from '../../../src/register/parse.ts'
import type { Register } from '../../../src/register/types.ts'
import { D01, house, W01, W02 } from '../ropewalk.ts'

const require = createRequire(import.meta.url)
// The published JSON Schema of AsyncAPI 3.1.0, with its MQTT bindings 0.2.0.
const schema = JSON.parse(readFileSync(require.resolve('@asyncapi/specs/schemas/3.1.0-without-$id.json'), 'utf8'))
const ajv = new Ajv({ strict: false, allErrors: true })
addFormats.default(ajv)
const isAsyncApi = ajv.compile(schema)

const ropewalk = parseRegister(readFileSync(new URL('../../../examples/ropewalk.yaml', import.meta.url), 'utf8'))
  .register!
const textOf = (register: Register): string => {
  const { text, problems } = asyncapi(register)
  expect(problems).toEqual([])
  return text!
}

test('the reference parser finds no error and the published schema none either', async () => {
  for (const register of [
    ropewalk,
    house([W01, W02, D01, `{ mark: '007', name: no, sender: ladder }`.replace(': no,', `: 'no',`)]),
  ]) {
    const text = textOf(register)
    const { document, diagnostics } = await new Parser().parse(text)
    expect(diagnostics.filter(({ severity }) => severity === 0)).toEqual([])
    expect(document?.version()).toBe('3.1.0')
    expect(document?.servers().all()).toHaveLength(register.openings.length)
    expect(document?.operations().all()).toHaveLength(register.openings.length)
    isAsyncApi(parse(text))
    expect(isAsyncApi.errors ?? []).toEqual([])
  }
})

test('the checkers can fail: a dangling reference and a wrong binding are found', async () => {
  const text = textOf(house([W01]))
  const { diagnostics } = await new Parser().parse(text.replace('#/servers/W01', '#/servers/W77'))
  expect(diagnostics.some(({ severity }) => severity === 0)).toBe(true)
  expect(isAsyncApi(parse(text.replace('keepAlive: 4', 'keepAlive: "4"')))).toBe(false)
})

test('each contact has one server with its client id, keep-alive and retained will inline, and no other server stands', () => {
  const document = parse(textOf(ropewalk))
  expect(Object.keys(document.servers)).toEqual(ropewalk.openings.map(({ mark }) => mark))
  for (const { mark, client, topic, sender } of ropewalk.openings) {
    expect(document.servers[mark]).toMatchObject({
      host: '127.0.0.1:1883',
      protocol: 'mqtt',
      bindings: {
        mqtt: {
          clientId: client,
          keepAlive: sender.keepAliveSeconds,
          lastWill: { topic, qos: sender.qos, message: sender.words.rest ?? sender.words.gone, retain: true },
          bindingVersion: '0.2.0',
        },
      },
    })
    expect(document.channels[mark].address).toBe(topic)
    expect(document.channels[mark].servers).toEqual([{ $ref: `#/servers/${mark}` }])
  }
})

test('an openings-only contact sends its word not retained, a both-edge contact its edges retained', () => {
  const { operations, channels } = parse(textOf(house([W01, D01])))
  expect(operations.W01.bindings.mqtt).toEqual({ qos: 1, retain: false, bindingVersion: '0.2.0' })
  expect(operations.D01.bindings.mqtt.retain).toBe(true)
  expect(operations.D01.messages.map((m: { $ref: string }) => m.$ref)).toEqual([
    '#/channels/D01/messages/opened',
    '#/channels/D01/messages/closed',
  ])
  expect(channels.D01.bindings).toBeUndefined()
  expect(channels.W01.messages.rest.payload.const).toBe('asleep')
})

test('JSON payloads are described where the register’s pointers say', () => {
  const { channels, servers } = parse(textOf(house([`{ mark: W09, name: Attic, sender: ladder }`])))
  const { payload, contentType } = channels.W09.messages.opened
  expect(contentType).toBe('application/json')
  const fits = new Ajv().compile(payload)
  expect(fits({ word: { now: 'opened' }, boots: 3 })).toBe(true)
  expect(fits({ word: { now: 'asleep' } })).toBe(false)
  expect(servers.W09.bindings.mqtt.lastWill.message).toBe('asleep')
})

test('a JSON payload is described with every figure that the register points at, as the keeper reads it', async () => {
  const register = house([`{ mark: W09, name: Attic, sender: ladder }`])
  const json = {
    word: '/said/now',
    boots: '/said/boots',
    millivolts: '/cell/millivolts',
    joinMilliseconds: '/join',
    revision: '/revision',
  }
  const openings = register.openings.map(o => ({ ...o, sender: { ...o.sender, json } }))
  const text = textOf({ ...register, openings })
  const { diagnostics } = await new Parser().parse(text)
  expect(diagnostics.filter(({ severity }) => severity === 0)).toEqual([])
  const fits = new Ajv().compile(parse(text).channels.W09.messages.opened.payload)
  const whole = { said: { now: 'opened', boots: 3 }, cell: { millivolts: 2780 }, join: 1260, revision: '5f1c09ab' }
  for (const [payload, isFit] of [
    [whole, true],
    [{ said: { now: 'opened' } }, true],
    [{ ...whole, said: { boots: 3 } }, false],
    [{ ...whole, join: 0 }, false],
    [{ ...whole, join: '1260' }, false],
    [{ ...whole, cell: { millivolts: -1 } }, false],
    [{ ...whole, said: { now: 'opened', boots: 1.5 } }, false],
  ] as const) {
    expect([payload, fits(payload)]).toEqual([payload, isFit])
    const at = '2026-11-25T18:02:00.000Z'
    const ears = new Map([['t', { mark: 'W09', words: { opened: 'opened', rest: 'asleep' }, json }]])
    const message = {
      topic: 't',
      payload: new TextEncoder().encode(JSON.stringify(payload)),
      retain: false,
      dup: false,
    }
    const entry = hear(ears, { ...message, qos: 1 }, { at, id: 'e1' })
    const read = { opened: entry?.what === 'opened', join: entry?.joinMilliseconds, boots: entry?.boots }
    if (isFit) expect(read).toEqual({ opened: true, join: (payload as typeof whole).join, boots: payload.said.boots })
  }
})

test('braces and wildcards in a topic are refused, all at once and with their lines', () => {
  const register = house([
    W01,
    `{ mark: W02, name: a, sender: coin, topic: 'ropewalk/{w02}' }`,
    `{ mark: W03, name: b, sender: coin, topic: 'r/}' }`,
  ])
  // The register refuses wildcards itself; a register built by other code may hold one.
  const openings = register.openings.map(o => (o.mark === 'W01' ? { ...o, topic: 'ropewalk/+' } : o))
  const { text, problems } = asyncapi({ ...register, openings })
  expect(text).toBeUndefined()
  expect(problems.map(({ code }) => code)).toEqual(['topic-wildcard', 'topic-brace', 'topic-brace'])
  expect(problems.map(({ line }) => line)).toEqual(register.openings.map(({ line }) => line))
})

test('a register without a broker address cannot describe a connection', () => {
  const { text, problems } = asyncapi({ ...house([W01]), broker: {} })
  expect([text, problems[0]?.code]).toEqual([undefined, 'no-broker'])
})

test('a broker over TLS is told by its protocol, with its port', () => {
  const { servers } = parse(textOf({ ...house([W01]), broker: { mqtt: 'mqtts://broker.lan' } }))
  expect(servers.W01).toMatchObject({ host: 'broker.lan:8883', protocol: 'secure-mqtt' })
})

test('readers of YAML 1.1, YAML 1.2 and another library read the same values', () => {
  const text = textOf(
    house([
      W01,
      `{ mark: '0x1F', name: 'on', sender: coin }`,
      `{ mark: 'NO', name: '12:30', sender: yard }`,
      `{ mark: '1e3', name: "a\\u2028b\\u0085c #", sender: coin }`,
    ]),
  )
  const value = parse(text)
  expect(parse(text, { version: '1.1' })).toEqual(value)
  expect(loadOther(text)).toEqual(value)
  expect(Object.keys(value.servers)).toContain('1e3')
})

test('nothing of the order of marks depends on how they look', () => {
  const text = textOf(house([`{ mark: Z, name: z, sender: coin }`, `{ mark: '7', name: y, sender: coin }`]))
  expect(text.indexOf('  Z:')).toBeLessThan(text.indexOf('  "7":'))
})
