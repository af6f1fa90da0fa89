import { describe, expect, it } from 'vitest'
import { ledgerRules, listenedTopics, openLedger } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import { BenchHouse } from './bench-house.ts'
import { opened, tempFolder } from './folder.ts'

const BORN = '2026-06-01T00:00:00.000Z'
const open = () => TallyStore.open(tempFolder(), 'write', ledgerRules({}))

describe('a snapshot whose sum is right and that holds no ledger', () => {
  const whole = { v: 1, since: BORN, count: 1, policy: {}, marks: {}, recent: [] }
  const state = { base: {}, window: [], fold: {} }
  it.each<readonly [what: string, kept: unknown]>([
    ['a text', 'ledger'],
    ['nothing', null],
    ['a later version', { ...whole, v: 2 }],
    ['a count that is none', { ...whole, count: -1 }],
    ['a start that is no time', { ...whole, since: 'yesterday' }],
    ['marks in a list', { ...whole, marks: [state] }],
    ['a mark without its window', { ...whole, marks: { W07: { ...state, window: undefined } } }],
    ['a mark whose fold is a number', { ...whole, marks: { W07: { ...state, fold: 3 } } }],
    ['words that are none', { ...whole, recent: [{ mark: 'W07' }] }],
  ])('%s: is thrown away, and all is counted again', async (_, kept) => {
    const store = open()
    store.begin(BORN)
    store.commitBatch({ entries: [opened(1), opened(2)], kept: kept as Ledger, snapshot: true })
    expect(store.replay(BORN)).toMatchObject({ replayed: 2, kept: { count: 2, since: BORN } })
    await store.close()
  })

  it('a ledger is read, and nothing is counted again', async () => {
    const store = open()
    store.commitBatch({ entries: Array.from({ length: 300 }, (_, n) => opened(n)) })
    const ledger = openLedger(store, {}, BORN)
    store.commitBatch({ entries: [], kept: ledger, snapshot: true })
    expect(store.replay(BORN)).toEqual({ kept: ledger, replayed: 0 })
    await store.close()
  })
})

describe('facts that nobody wrote so', () => {
  const NONSENSE = ['', 'no json', 'null', '{}', '[null]', '[[1]]', '{"about":3}']

  it.each(NONSENSE)('topics %j: what was listened to is not known', async topics => {
    const store = open()
    store.commitBatch({ entries: [], facts: { topics } })
    expect(listenedTopics(store)).toBeUndefined()
    await store.close()
  })

  it.each(NONSENSE)('all of them %j: the keeper starts, counts what comes, and reads as before', async text => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    expect(house.reading('W01')).toMatchObject({ openings: 1 })
    const facts = Object.fromEntries(['topics', 'alerts', 'links', 'reusedIn', 'olderSession'].map(key => [key, text]))
    house.kill()
    await house.start()
    house.store.commitBatch({ entries: [], facts })
    house.kill()
    await house.start()
    await house.clock.pass(5)
    expect(house.reading('W01')).toMatchObject({ openings: 1 })
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    expect(house.reading('W01')).toMatchObject({ openings: 2 })
    await house.keeper.stop()
    await house.store.close()
  })
})
