import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { type Answers, faultOf, registerText } from '../../src/cli/init-text.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { KINDS } from '../../src/register/types.ts'
import { fakeWorld } from '../support/world.ts'

let folder: string
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-init-'))
})
afterAll(() => rm(folder, { recursive: true, force: true }))

/** A person who answers what they are asked, by a word of the question. */
const person = (answers: Record<string, string | string[]>) => {
  const left = structuredClone(answers)
  return fakeWorld({
    cwd: folder,
    ask: async question => {
      const key = Object.keys(left).find(word => question.includes(word))
      const answer = key === undefined ? '' : left[key]!
      return Array.isArray(answer) ? (answer.shift() ?? '') : answer
    },
  })
}

test('answers become a register that checks without a problem', async () => {
  const world = person({
    'Name of the house': ['', 'Ropewalk "annexe": it’s ours'],
    'Time zone': ['Nowhere/Town', 'Europe/Lisbon'],
    'MQTT broker': 'mqtt://broker.lan',
    'Sides in walking order': 'south, north',
    Floors: '2',
    'south, ground floor: rooms': 'Dye room, yes, 007',
    'south, ground floor: doors': 'Yard door',
    'north, floor 1: rooms': 'Paper store',
    'report both edges': 'yes',
  })
  expect(await cli(['init', '--out', 'house.yaml'], world)).toBe(0)
  expect(world.said.stderr).toMatch(/a name is 1 to 100 characters/)
  expect(world.said.stderr).toMatch(/a time zone is a name such as/)
  const { register, problems } = parseRegister(await readFile(join(folder, 'house.yaml'), 'utf8'))
  expect(problems).toEqual([])
  expect(register?.house).toBe('Ropewalk "annexe": it’s ours')
  expect(register?.openings.map(({ mark, name, sender }) => [mark, name, sender.name])).toEqual([
    ['W01', 'Dye room', 'coin'],
    ['W02', 'yes', 'coin'],
    ['W03', '007', 'coin'],
    ['D01', 'Yard door', 'mains'],
    ['W04', 'Paper store', 'coin'],
  ])
})
test('a file that is there is not written over, and without a terminal nothing is', async () => {
  await writeFile(join(folder, 'mine.yaml'), 'mine')
  expect(await cli(['init', '--out', 'mine.yaml'], person({}))).toBe(1)
  expect(await readFile(join(folder, 'mine.yaml'), 'utf8')).toBe('mine')
  expect(await cli(['init', '--out', 'other.yaml'], fakeWorld({ cwd: folder }))).toBe(2)
})
test('any answers that are let through parse, and every name comes back unchanged', () => {
  const name = fc
    .oneof(
      fc.string({ unit: 'grapheme', minLength: 1, maxLength: 30 }),
      fc.constantFrom('yes', '007', '{a}', '# b', "'", '"', '\\', '- x'),
    )
    .filter(text => faultOf.name(text) === undefined)
  const floor = fc.record({
    floor: fc.integer({ min: 0, max: 8 }),
    kind: fc.constantFrom(...KINDS),
    rooms: fc.array(name, { minLength: 1, maxLength: 4 }),
  })
  const answers: fc.Arbitrary<Answers> = fc.record({
    house: name,
    timezone: fc.constantFrom('Europe/Lisbon', 'UTC', 'America/Argentina/Ushuaia'),
    broker: fc.constantFrom('mqtt://broker.lan', 'mqtts://b:8884'),
    parent: fc.constantFrom('house', 'home/windows', '1'),
    sides: fc.uniqueArray(fc.record({ name, floors: fc.array(floor, { minLength: 1, maxLength: 3 }) }), {
      minLength: 1,
      maxLength: 4,
      selector: side => side.name,
    }),
    both: fc.boolean(),
  })
  fc.assert(
    fc.property(answers, given => {
      const { register, problems } = parseRegister(registerText(given))
      expect(problems.filter(({ severity }) => severity === 'error')).toEqual([])
      expect(register?.house).toBe(given.house)
      expect(register?.openings.map(opening => opening.name)).toEqual(
        given.sides.flatMap(side => side.floors.flatMap(({ rooms }) => rooms)),
      )
    }),
  )
})
