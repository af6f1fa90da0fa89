import { readFileSync } from 'node:fs'
import { load } from 'js-yaml'
import { expect, test } from 'vitest'
import { CELLS } from '../../src/budget/circuit/cells.ts'
import { LOADS } from '../../src/budget/circuit/loads.ts'
import { parseRegister, registerSteps } from '../../src/register/parse.ts'
import { LOAD_MILLISECONDS } from '../../src/register/resolve.ts'
import { BUILT_IN_CELLS, type Register } from '../../src/register/types.ts'
import { found, sound, written } from './written.ts'

const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')

test('the example house has 26 openings on four sides and three floors, and nothing to complain of', () => {
  const { register, problems } = parseRegister(example)
  expect(problems).toEqual([])
  expect(register?.openings).toHaveLength(26)
  expect(register?.sides).toEqual(['south', 'east', 'north', 'west'])
  expect(new Set(register?.openings.map(opening => opening.at?.floor))).toEqual(new Set([0, 1, 2]))
  expect(Object.values(register!.senders).map(({ power, reports, json }) => [power, reports, !!json])).toEqual([
    ['cell', 'openings', false],
    ['cell', 'openings', true],
    ['mains', 'both', false],
  ])
})

// js-yaml is an independent reader of YAML.
test('another YAML reader reads the same example', () => {
  const other = load(example) as Record<'house' | 'timezone', string> & { openings: Record<string, unknown>[] }
  const ours = sound(example)
  expect([ours.house, ours.timezone]).toEqual([other.house, other.timezone])
  const facts = ({ mark, name, room, kind, at }: Record<string, unknown>) => ({ mark, name, room, kind, at })
  expect(ours.openings.map(opening => facts({ ...opening }))).toEqual(other.openings.map(facts))
})

test('every default is filled in', () => {
  const { openings, senders, ...house } = sound(
    written({
      senders: `
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }`,
      openings: `
  - { mark: W01, name: A, sender: coin, at: { side: south, floor: 1 } }
  - { mark: D01, name: B, sender: yard, at: { side: north } }`,
    }),
  )
  expect(house).toEqual({
    house: 'Ropewalk Studios',
    timezone: 'Europe/Lisbon',
    broker: {},
    tally: 'ropewalk/tally',
    sides: ['south', 'north'],
    floors: 2,
    homieDomain: 'homie',
    roof: 'gable',
  })
  expect(senders.coin).toMatchObject({ power: 'cell', qos: 1, keepAliveSeconds: 4, load: 'cold-join', bootSeconds: 4 })
  expect(senders.yard).toMatchObject({ power: 'mains', qos: 1, keepAliveSeconds: 30, bootSeconds: 0 })
  expect(senders.yard).not.toHaveProperty('load')
  expect(openings[0]).toMatchObject({
    kind: 'window',
    topic: 'ropewalk/w01',
    topicDerived: true,
    client: 'ropewalkw01',
    clientDerived: true,
    was: [],
    settings: { provenWithinDays: 180, replaceBelow: 0.9, takeAsClosedAfterMinutes: null, bounceSeconds: 30 },
    revision: expect.stringMatching(/^[0-9a-f]{8}$/),
    line: 10,
  })
  expect(openings[1]?.at).toEqual({ side: 'north', floor: 0 })
})

test('the nearest setting wins: opening over sender over house', () => {
  const { openings } = sound(
    written({
      head: 'bounceSeconds: 1\nprovenWithinDays: 100\nreplaceBelow: 0.5\ntakeAsClosedAfterMinutes: 60',
      senders:
        '  coin: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep }, bounceSeconds: 2, provenWithinDays: 200 }',
      openings: `
  - { mark: W01, name: A, sender: coin, bounceSeconds: 3, takeAsClosedAfterMinutes: null }
  - { mark: W02, name: B, sender: coin }`,
    }),
  )
  expect(openings[0]?.settings).toEqual({
    bounceSeconds: 3,
    provenWithinDays: 200,
    replaceBelow: 0.5,
    takeAsClosedAfterMinutes: null,
  })
  expect(openings[1]?.settings).toMatchObject({ bounceSeconds: 2, takeAsClosedAfterMinutes: 60 })
})

test("an opening's wifi goes over its sender's, key by key", () => {
  const { openings } = sound(
    written({
      senders:
        "  coin: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep }, wifi: { channel: 6, bssid: '02:00:5e:10:00:01' } }",
      openings: '  - { mark: W01, name: A, sender: coin, wifi: { channel: 11, address: 192.168.7.31 } }',
    }),
  )
  expect(openings[0]?.wifi).toEqual({ channel: 11, bssid: '02:00:5e:10:00:01', address: '192.168.7.31' })
})

test("the house's wifi goes under its senders' and openings', key by key", () => {
  const { openings } = sound(
    written({
      head: 'wifi: { name: Ropewalk yard, channel: 1 }',
      senders:
        '  coin: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep }, wifi: { channel: 6 } }\n' +
        '  plain: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep } }',
      openings:
        '  - { mark: W01, name: A, sender: coin, wifi: { name: Loft } }\n  - { mark: W02, name: B, sender: plain }',
    }),
  )
  expect(openings.map(({ wifi }) => wifi)).toEqual([
    { name: 'Loft', channel: 6 },
    { name: 'Ropewalk yard', channel: 1 },
  ])
})

test('boot time is the sum of the phases of a load', () => {
  const phases = '[{ milliamps: 75, milliseconds: 900 }, { milliamps: 20, milliseconds: 1350 }]'
  const { senders } = sound(
    written({
      senders: `  coin: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep }, load: ${phases} }`,
    }),
  )
  expect(senders.coin?.bootSeconds).toBe(2.25)
})

test('a tally topic of one level puts the marks at the top', () => {
  expect(sound(written({ tally: 'sashes' })).openings[0]).toMatchObject({ topic: 'w01', client: 'w01' })
})

test('a register with no tally and no time zone is read, with warnings', () => {
  const text = written().replace(/^timezone.*\ntally.*\n/m, '')
  expect(found(text).map(line => line.split(' ')[0])).toEqual(['?timezone-missing', '?tally-missing'])
  expect(sound(text)).toMatchObject({ timezone: 'UTC', tally: 'house/tally' })
})

test('CRLF, a byte-order mark and LF give the same register', () => {
  const lines = ({ openings, ...rest }: Register) => ({ ...rest, openings })
  const plain = lines(sound(example))
  expect(lines(sound(example.replaceAll('\n', '\r\n')))).toEqual(plain)
  expect(lines(sound(`\uFEFF${example}`))).toEqual(plain)
})

test('names in any script are kept as written', () => {
  const names = ['染色室 南', 'غرفة الصباغة', 'Красильня', 'Färberei', '🪟 loft']
  const openings = names.map((name, index) => `  - { mark: W${index}, name: '${name}', sender: coin }`).join('\n')
  expect(sound(written({ openings })).openings.map(opening => opening.name)).toEqual(names)
})

test('anchors and aliases are read, as what they stand for', () => {
  const { openings } = sound(
    written({
      openings: `
  - { mark: W01, name: &where Dye room, sender: coin, at: &at { side: south, floor: 1 } }
  - { mark: W02, name: *where, sender: coin, at: *at }`,
    }),
  )
  expect(openings[1]).toMatchObject({ name: 'Dye room', at: { side: 'south', floor: 1 } })
})

test('the register knows the cells and the lengths of the loads that the budget knows', () => {
  expect([...BUILT_IN_CELLS].sort()).toEqual(CELLS.map(cell => cell.name).sort())
  const lengths = LOADS.map(load => [load.name, load.phases.reduce((sum, phase) => sum + phase.milliseconds, 0)])
  expect(Object.fromEntries(lengths)).toEqual(LOAD_MILLISECONDS)
})

test('500 openings are read in well under a second', () => {
  const openings = Array.from({ length: 500 }, (_, i) => `  - { mark: W${i}, name: 'Room ${i}', sender: coin }`).join(
    '\n',
  )
  const text = written({ openings })
  const start = process.cpuUsage()
  expect(sound(text).openings).toHaveLength(500)
  expect(process.cpuUsage(start).user / 1e6).toBeLessThan(0.9)
})

test('an unknown sender is told although a later line is no YAML, and not where its own line may be lost', () => {
  const openings = `openings:
  - { mark: W01, name: Shop, sender: doors }
  - { mark: W02, name: Stair, sender: coin }}
`
  const senders = `senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
`
  const head = 'house: H\ntimezone: UTC\ntally: h/tally\n'
  const codes = (text: string) => parseRegister(text).problems.map(({ code, line }) => `${line} ${code}`)
  expect(codes(head + senders + openings)).toContain('7 sender-unknown')
  expect(codes(head + openings + senders).some(code => code.includes('sender-unknown'))).toBe(false)
})

test('a register of hundreds is read in many steps, and the last one gives what reading at once gives', () => {
  const many = Array.from({ length: 300 }, (_, index) => `  - { mark: W${index}, name: Loft, sender: coin }`)
  const text = written({ openings: many.join('\n') })
  const steps = registerSteps(text)
  let count = 0
  let step = steps.next()
  for (; !step.done; step = steps.next()) count++
  expect(step.value).toEqual(parseRegister(text))
  expect(count).toBeGreaterThan(2 * many.length)
})
