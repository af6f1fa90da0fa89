import { describe, expect, it } from 'vitest'
import { BootWatch } from '../../src/keeper/session/boot-watch.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { BenchHouse } from './bench-house.ts'

const word = (n: number, boots: number): Entry => ({
  id: `e${n}-${boots}`,
  at: '2026-06-01T08:00:00.000Z',
  mark: `W${n}`,
  what: 'opened',
  how: 'queued',
  boots,
})

/** A watch, and the ledger to which the words are added that it looks at. */
function watched() {
  let ledger = startLedger({})
  const watch = new BootWatch(ledger)
  const look = (words: readonly Entry[]): void => {
    ledger = applyAll(ledger, words)
    watch.look(words, ledger)
  }
  return { look, due: (now: number) => watch.due(now) }
}

it('boots of words that came on test are not missing', () => {
  const watch = watched()
  watch.look([word(1, 5)])
  watch.look([6, 7, 8].map(boots => ({ ...word(1, boots), how: 'tested' as const })))
  watch.look([word(1, 9)])
  expect(watch.due(0)).toBeUndefined()
  watch.look([word(1, 11)])
  expect(watch.due(0)?.sentence).toMatch(/^W1 booted 1 time more/)
})

it('boots that nobody heard of many openings are one sentence that a person reads', () => {
  const watch = watched()
  const all = Array.from({ length: 300 }, (_, n) => n)
  watch.look(all.map(n => word(n, 1)))
  expect(watch.due(0)).toBeUndefined()
  watch.look(all.map(n => word(n, 3)))
  const { sentence, marks } = watch.due(0)!
  expect(sentence).toMatch(/^W0 booted 1 time more than was heard, .* and 297 more while the keeper was away/)
  expect(sentence.length).toBeLessThan(400)
  expect(marks).toEqual(all.slice(0, 100).map(n => `W${n}`))
})

it('boots that are found missing word by word are told of once a minute for each opening, added up and in order', () => {
  const watch = watched()
  const told: (string | undefined)[] = []
  for (let second = 0; second < 150; second++) {
    watch.look([word(2, 3 * second), word(1, 2 * second)])
    const said = watch.due(second * 1_000)
    if (said) told.push(said.sentence.replace(/ while .*/, ''))
  }
  const both = (two: number, one: number) => [
    `W2 booted ${two} times more than was heard`,
    `W1 booted ${one} ${one === 1 ? 'time' : 'times'} more than was heard`,
  ]
  expect(told.map(said => said?.split(', '))).toEqual([both(2, 1), both(120, 60), both(120, 60)])
})

it('words that come behind a later one of their contact are no sign of more boots', () => {
  const watch = watched()
  watch.look([word(1, 5)])
  for (const boots of [7, 6, 8]) watch.look([word(1, boots)])
  expect(watch.due(0)?.sentence).toMatch(/^W1 booted 1 time more than was heard while/)
  watch.look([word(1, 9)])
  expect(watch.due(120_000)).toBeUndefined()
})

describe('a keeper that ends', () => {
  it('tells of the boots that were found missing within the minute before', async () => {
    const house = new BenchHouse()
    await house.start()
    const missing = () =>
      house.told.filter(line => line.includes('than was heard')).map(line => line.replace(/ more.*/, ''))
    const word = (boots: number) => house.say('ropewalk/w03', `{"word":"opened","boots":${boots}}`)
    const away = async (): Promise<void> => {
      house.broker.stop()
      await house.clock.pass(1)
      house.broker.start()
      await house.clock.pass(1)
    }
    await word(1)
    await away()
    await word(3)
    expect(missing()).toEqual(['W03 booted 1 time'])
    await away()
    await word(6)
    expect(missing()).toHaveLength(1)
    await house.keeper.stop()
    expect(missing()).toEqual(['W03 booted 1 time', 'W03 booted 2 times'])
    expect(house.state()).toMatchObject({ state: 'gone', problem: expect.stringContaining('W03 booted 2 times') })
  })
})
