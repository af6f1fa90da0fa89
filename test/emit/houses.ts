import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { parseRegister } from '../../src/register/parse.ts'
import type { Register } from '../../src/register/types.ts'

/** A register from its text; throws with the first error when it has one. */
export function registerOf(text: string): Register {
  const { register, problems } = parseRegister(text)
  if (register) return register
  throw new Error(problems.find(({ severity }) => severity === 'error')?.message ?? 'no register')
}

/** The example register. */
export const ropewalk = (): Register =>
  registerOf(readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8'))

const HOSTILE = [
  '<script>alert(1)</script>',
  '<img src=x onerror=alert(1)>',
  '*/ int x; /*',
  '// \\',
  '??/',
  '"; }',
  '%s%n%%',
  '=1+1',
  '@x',
  '-2',
  '\\x41f',
  'a"b\'c',
  'line\nbreak',
  'tab\there',
  'ünï 窓 😀',
  ']]>',
  '</text>',
  '&amp;',
]
const text = (maxLength: number) =>
  fc
    .oneof(
      fc.constantFrom(...HOSTILE),
      fc.string({ unit: 'binary', minLength: 1, maxLength }),
      fc.string({ minLength: 1, maxLength }),
    )
    .filter(made => !/[\0\p{Cs}]/u.test(made))

const opening = (mark: string) =>
  fc.record({
    mark: fc.constant(mark),
    name: text(30),
    room: text(20),
    sender: fc.constantFrom('coin', 'json', 'yard'),
  })

/** Houses whose names and words are any text a register allows. */
export const anyHouse: fc.Arbitrary<Register> = fc
  .record({
    house: text(30),
    opened: text(20),
    openings: fc.tuple(opening('W01'), opening('D-2'), opening('7')),
  })
  .map(({ house, opened, openings }) => {
    const words = { opened, rest: `${opened} asleep` }
    const yard = {
      reports: 'both',
      power: 'mains',
      words: { opened, closed: `${opened} shut`, gone: `${opened} lost` },
    }
    const coin = { reports: 'openings', cell: 'CR2032', words }
    return parseRegister(
      JSON.stringify({
        house,
        timezone: 'Europe/Lisbon',
        broker: { mqtt: 'mqtt://broker.lan:1883' },
        tally: 'ropewalk/tally',
        senders: { coin, yard, json: { ...coin, json: { word: '/word', boots: '/boots' } } },
        openings,
      }),
    ).register
  })
  .filter(register => register !== undefined)
