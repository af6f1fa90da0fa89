import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { Ajv2020 } from 'ajv/dist/2020.js'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { parse, stringify } from 'yaml'
import { registerText, USUAL_WORDS } from '../../src/cli/begin/init-text.ts'
import { registerSchemaText } from '../../src/emit/standards/register-schema.ts'
import { registerJsonSchema } from '../../src/register/json-schema.ts'
import { parseRegister } from '../../src/register/parse.ts'

// JSON Schema, draft 2020-12, in strict mode: an unknown keyword or a pattern that is none makes it throw.
const fits = new Ajv2020({ strict: true, allErrors: true }).compile(registerJsonSchema())
const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')

const FULL = {
  house: 'Ropewalk Studios',
  timezone: 'Europe/Lisbon',
  broker: { mqtt: ['mqtt://broker.lan', 'mqtt://second.lan'], websocket: 'ws://broker.lan:9001' },
  tally: 'ropewalk/tally',
  sides: ['south', 'yard'],
  floors: 2,
  roof: 'hip',
  prices: { module: 4.2, reed: 0 },
  homieDomain: 'annex',
  alerts: { bedtime: '22:30', openLongMinutes: 240, to: 'http://hub.lan:8099/alerts' },
  wifi: { name: 'ropewalk', channel: 6, bssid: '02:00:5e:10:00:01', address: '192.168.7.31' },
  takeAsClosedAfterMinutes: null,
  senders: {
    coin: {
      reports: 'openings',
      cell: 'CR2032',
      words: { opened: 'opened', rest: 'asleep' },
      keepAliveSeconds: 4,
      qos: 1,
      load: [
        {
          name: 'boot',
          milliamps: 80,
          milliseconds: 300,
          burst: { milliamps: 170, milliseconds: 2, everyMilliseconds: 100 },
        },
      ],
      json: { word: '/word', boots: '/boots', millivolts: '/mv', revision: '/rev' },
      provenWithinDays: 365,
    },
    yard: {
      reports: 'both',
      power: 'mains',
      words: { opened: 'ajar', closed: 'shut', gone: 'lost' },
      load: 'cold-join',
    },
  },
  openings: [
    {
      mark: 'W01',
      name: 'Dye room',
      room: 'Dye room',
      kind: 'sash',
      sender: 'coin',
      topic: 'ropewalk/w01',
      client: 'rww01',
      at: { side: 'south', floor: 0, along: 0.24 },
      cellFitted: '2026-03-01',
      was: ['W24'],
      openMinutes: 10,
    },
    { mark: 'D01', name: 'Yard door', sender: 'yard' },
  ],
}

const errorsOf = (value: unknown) =>
  parseRegister(stringify(value)).problems.filter(({ severity }) => severity === 'error')

describe('the JSON Schema of the register', () => {
  test('takes every register that the program takes', () => {
    const asked = registerText(
      {
        house: 'x: "y"',
        timezone: 'UTC',
        broker: 'mqtt://broker.lan',
        parent: 'house',
        contacts: USUAL_WORDS,
        floors: 1,
        sides: [
          {
            name: 'south',
            floors: [{ floor: 0, openings: [{ name: 'a', room: 'b', kind: 'door', contact: 'mains' }] }],
          },
        ],
      },
      './x.json',
    )
    for (const text of [example, stringify(FULL), asked]) {
      expect(parseRegister(text).register).toBeDefined()
      expect([fits(parse(text)), fits.errors]).toEqual([true, null])
    }
  })

  /** Every place of a value, with what it takes to put something else there. */
  const places: (readonly (string | number)[])[] = []
  const walk = (value: unknown, path: readonly (string | number)[]): void => {
    if (path.length) places.push(path)
    if (typeof value === 'object' && value !== null)
      for (const [key, inner] of Object.entries(value)) walk(inner, [...path, Array.isArray(value) ? Number(key) : key])
  }
  walk(FULL, [])
  const ODD = [
    null,
    true,
    -1,
    0,
    0.5,
    1.5,
    3,
    100_000,
    1e9,
    '',
    'x',
    '2026-02-30',
    '2026-1-1',
    'a/b',
    '/a~2',
    'x'.repeat(300),
    [],
    {},
    [1],
    ['a'],
    { x: 1 },
  ]

  test('agrees with the program on every value at every place, but for what only the program can tell', () => {
    // Rules of one value that a JSON Schema can hold; all others are checked by the program alone.
    const told = new Set([
      'text',
      'number',
      'choice',
      'map',
      'list',
      'mark',
      'json-pointer',
      'bssid',
      'ip-address',
      'bedtime',
      'homie-domain',
      'alerts-to',
      'unknown-key',
      'missing',
      'empty',
      'unquoted',
    ])
    let refused = 0
    fc.assert(
      fc.property(fc.constantFrom(...places), fc.constantFrom(...ODD, undefined), (path, odd) => {
        const value = structuredClone(FULL) as unknown as Record<string | number, never>
        const owner = path.slice(0, -1).reduce((held, part) => held[part]!, value)
        if (odd === undefined) delete owner[path.at(-1)!]
        else owner[path.at(-1)!] = odd as never
        const errors = errorsOf(value)
        const isFit = fits(parse(stringify(value)))
        if (errors.length === 0) expect([path, odd, fits.errors ?? []]).toEqual([path, odd, []])
        if (isFit)
          expect([path, odd, errors.filter(({ code }) => told.has(code)).map(({ code }) => code)]).toEqual([
            path,
            odd,
            [],
          ])
        else refused++
      }),
      { numRuns: 500 },
    )
    expect(refused).toBeGreaterThan(100)
  })

  test('stands in the package as it is made', () => {
    const path = createRequire(import.meta.url).resolve('sashtally/register.schema.json')
    expect(readFileSync(path, 'utf8')).toBe(registerSchemaText())
  })

  test('names an unknown key, and explains each key in the words of the rule', () => {
    expect(fits({ ...FULL, hose: 1 })).toBe(false)
    const { properties } = registerJsonSchema() as { properties: Record<string, { description: string }> }
    expect(properties.roof!.description).toBe('roof is one of gable, hip, flat')
    for (const [key, { description }] of Object.entries(properties))
      expect([key, description]).toEqual([key, expect.stringMatching(/ is /)])
  })
})
