import { expect, test } from 'vitest'
import { olderHeadersByChange, olderHeadersByTally } from '../../src/cli/register/older-headers.ts'
import { factsOf } from '../../src/house/policy.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Register } from '../../src/register/types.ts'
import { registerOf } from '../emit/houses.ts'

const house = (keepAlive: number, mark = 'W07', more = ''): Register =>
  registerOf(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: ${keepAlive} }
openings:
  - { mark: ${mark}, name: Binding room, sender: coin${more} }
  - { mark: W08, name: Etching room, sender: coin, topic: ropewalk/etching, client: rwetching }
`)
const flashed = (register: Register, extra: Partial<Entry> = {}): Entry => {
  const opening = register.openings[0]!
  return {
    id: 'f',
    at: '2026-03-01T09:00:00.000Z',
    mark: opening.mark,
    what: 'flashed',
    how: 'live',
    revision: opening.revision,
    text: factsOf(register)(opening.mark, opening.revision)!,
    ...extra,
  }
}
const tallyOf = (...entries: readonly Entry[]): TallyStore<Ledger> => TallyStore.inMemory(ledgerRules({}), entries)
const word = (what: Entry['what'], extra: Partial<Entry> = {}): Entry => ({
  id: 'w',
  at: '2026-03-02T09:00:00.000Z',
  mark: 'W07',
  what,
  how: 'live',
  ...extra,
})

test('a module that holds what the register says is not listed', () => {
  expect(olderHeadersByTally(house(4), tallyOf(flashed(house(4)), word('opened')))).toEqual([])
  expect(olderHeadersByChange(house(4), house(4))).toEqual([])
})
test('what changed since it was flashed is named', () => {
  const [found] = olderHeadersByTally(house(6), tallyOf(flashed(house(4))))
  expect(found).toMatchObject({ mark: 'W07', sentence: 'W07 was flashed with keep-alive 4, the register says 6' })
})
test('a revision that nobody kept the facts of is listed all the same', () => {
  const { text: _, ...bare } = flashed(house(4))
  expect(olderHeadersByTally(house(6), tallyOf(bare))[0]?.sentence).toMatch(/holds revision [0-9a-f]{8}.*was not kept/)
})
test.each([
  ['no JSON', 'nonsense'],
  ['a list', '["mark"]'],
  ['null', 'null'],
  ['a fact that is none', '{"mark":"W07","words":null}'],
  ['no mark', '{"client":"w07"}'],
])('facts that are %s count as not kept', (_, text) => {
  const [found] = olderHeadersByTally(house(6), tallyOf({ ...flashed(house(4)), text }))
  expect(found?.changed).toBeUndefined()
  expect(found?.sentence).toMatch(/was not kept/)
})
test('what was kept or heard steers no terminal', () => {
  const kept = JSON.stringify({ mark: 'W07\u001b[2J', '\u001b[2J': 1 })
  const [was] = olderHeadersByTally(house(6), tallyOf({ ...flashed(house(4)), text: kept }))
  expect(was?.sentence).toMatch(/"W07\\u001B\[2J".*\\u001B\[2J 1/)
  const [heard] = olderHeadersByTally(house(4), tallyOf(word('odd', { text: '\u001b[2J' })))
  for (const sentence of [was!.sentence, heard!.sentence]) expect(sentence).not.toContain('\u001b')
})
test('what a module itself says counts, and an unknown word after it', () => {
  expect(olderHeadersByTally(house(4), tallyOf(word('opened', { revision: '00000000' })))[0]?.holds).toBe('00000000')
  expect(olderHeadersByTally(house(4), tallyOf(word('odd', { text: 'auf' })))[0]?.sentence).toMatch(
    /"auf", a word that the register does not know/,
  )
})
test('an earlier mark’s flashing is this opening’s', () => {
  const renamed = house(4, 'W70', ', was: [W07], topic: ropewalk/w07, client: ropewalkw07')
  expect(olderHeadersByTally(renamed, tallyOf(flashed(house(4))))[0]?.sentence).toMatch(
    /W70 was flashed with mark "W07"/,
  )
})
test('a planned change lists which modules must come out', () => {
  const list = olderHeadersByChange(house(4), house(6))
  expect(list.map(({ mark, sentence }) => [mark, sentence])).toEqual([
    ['W07', 'W07 was flashed with keep-alive 4, the register says 6'],
    ['W08', 'W08 was flashed with keep-alive 4, the register says 6'],
  ])
})
