import fc from 'fast-check'
import { expect, test } from 'vitest'
import { stringify } from 'yaml'
import { entryMaker } from '../../../src/emit/hub/entry-maker.ts'
import { factsOf } from '../../../src/emit/hub/facts.ts'
import { WIRES } from '../../../src/emit/hub/field-names.ts'
import { hubEntries } from '../../../src/emit/hub/hub.ts'
import { readHubFile } from '../../../src/emit/hub/hub-file.ts'
import { learn } from '../../../src/emit/hub/learn.ts'
import { parseProfile, profileText } from '../../../src/emit/hub/profile.ts'
import type { Opening } from '../../../src/register/types.ts'
import { scalarsOf } from '../../../src/text/yaml-value.ts'
import { registerOf } from '../houses.ts'

/** Facts that stand in one another, are equal to one another, or differ in case only. */
const wild = fc.record({
  names: fc.shuffledSubarray(
    ['Loft', 'Loft, north', 'W01', 'W011', 'Dye room', 'loft', 'asleep', 'a/w01', 'open', '1'],
    {
      minLength: 3,
      maxLength: 3,
    },
  ),
  marks: fc.shuffledSubarray(['W01', 'W011', 'D1', 'open', '1', 'Loft'], { minLength: 3, maxLength: 3 }),
  topics: fc.shuffledSubarray(['a/w01', 'a/w01/b', 'a', 'W01', 'x-a/w01'], { minLength: 3, maxLength: 3 }),
  clients: fc.shuffledSubarray(['w01', 'aw01', 'Loft', 'c'], { minLength: 3, maxLength: 3 }),
  rooms: fc.array(fc.constantFrom('Loft', 'Dye room', 'W01', undefined), { minLength: 3, maxLength: 3 }),
  senders: fc.array(fc.constantFrom('coin', 'yard'), { minLength: 3, maxLength: 3 }),
})
const SEPARATORS = [' ', '', '', '_', '/', ', ', "'", '"', 'x', '0', ' is ', ' opened ', '́']

const anyCase = fc
  .tuple(
    wild,
    fc.array(
      fc.array(fc.tuple(fc.nat(), fc.constantFrom(...SEPARATORS), fc.nat({ max: 9 })), { minLength: 1, maxLength: 4 }),
      { minLength: 1, maxLength: 5 },
    ),
    fc.constantFrom(...WIRES),
  )
  .map(([{ names, marks, topics, clients, rooms, senders }, texts, wire]) => {
    const register = registerOf(
      JSON.stringify({
        house: 'Ropewalk Studios',
        timezone: 'Europe/Lisbon',
        tally: 'a/tally',
        senders: {
          coin: { reports: 'openings', cell: 'CR2032', words: { opened: 'open', rest: 'asleep' } },
          yard: { reports: 'both', power: 'mains', words: { opened: 'ajar', closed: 'shut', gone: 'lost' } },
        },
        openings: marks.map((mark, i) => ({
          mark,
          name: names[i],
          topic: topics[i],
          client: clients[i],
          sender: senders[i],
          ...(rooms[i] !== undefined && { room: rooms[i] }),
        })),
      }),
    )
    const facts = factsOf(register.openings[0]!, register, 'contact').map(({ text }) => text)
    const made = texts.map(pieces =>
      pieces
        .map(([which, separator, how]) => {
          const fact = facts[which % facts.length]!
          return (how === 0 ? fact.toUpperCase() : how === 1 ? fact.toLowerCase() : fact) + separator
        })
        .join(''),
    )
    return { register, texts: made, wire }
  })

/** Finds a fact as whole runs of letters and digits; written apart from the code. */
const runsIn = (fact: string, flags = 'gu'): RegExp[] => {
  const text = fact.replace(/[\\^$.*+?()[\]{}|/]/g, '\\$&')
  const [before, after] = ['(?<![\\p{L}\\p{M}\\p{N}])', '(?![\\p{L}\\p{M}\\p{N}])']
  return [new RegExp(`(?=(${before}${text}${after}))`, flags)]
}
const stretches = (scalar: unknown, facts: readonly RegExp[]): [number, number][] =>
  facts.flatMap(fact =>
    [...String(scalar).matchAll(fact)].map(({ index, 1: held }): [number, number] => [index, index + held!.length]),
  )

test('any facts, however alike: what is learned gives the model back, and leaves nothing of its own in another entry', () => {
  let made = 0
  let refused = 0
  fc.assert(
    fc.property(anyCase, ({ register, texts, wire }) => {
      const [model, ...others] = register.openings as [Opening, ...Opening[]]
      const text = stringify({ ears: [{ own: model.topic, texts, kept: 'the same' }] })
      const { hub } = readHubFile(text, register.tally)
      const { profile, problems } = learn(hub!, register, model, { wire, fill: new Map() })
      if (!profile) {
        refused++
        for (const { message } of problems) expect(message).toMatch(/--fill|Several|Which of/)
        return
      }
      const back = new Map(scalarsOf(entryMaker({ profile, wire: 'contact' }, register)(model)))
      expect([...back]).toEqual([
        ['/own', model.topic],
        ...texts.map((each, i) => [`/texts/${i}`, each]),
        ['/kept', 'the same'],
      ])
      expect(parseProfile(profileText(profile)).profile).toEqual(profile)
      const { entries, problems: bad } = hubEntries(register, { profile, wire, leaveOut: new Set([model.mark]) })
      if (bad.length) return
      made++
      for (const [index, { value }] of entries.entries()) {
        const own = factsOf(others[index]!, register, wire).flatMap(({ text: fact }) => runsIn(String(fact)))
        const isSame = others[index]!.sender.name === model.sender.name && wire === 'contact'
        const words = isSame ? [] : Object.values(model.sender.words).map(word => runsIn(word)[0]!)
        for (const [, scalar] of scalarsOf(value)) {
          const found = [
            ...[model.mark, model.topic, model.client, model.name].flatMap(fact =>
              stretches(scalar, runsIn(fact, 'giu')),
            ),
            ...stretches(scalar, words),
          ]
          const covered = stretches(scalar, own)
          const left = found.filter(([from, to]) => !covered.some(([start, end]) => from >= start && to <= end))
          expect([scalar, left]).toEqual([scalar, []])
        }
      }
    }),
    { numRuns: 1500 },
  )
  expect([made > 100, refused > 100]).toEqual([true, true])
})
