import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { sessionName } from '../../src/keeper/session/client-id.ts'
import { Redelivery } from '../../src/keeper/session/redelivery.ts'
import { LastAnswered } from '../../src/keeper/store/last-answered.ts'
import { takeLock } from '../../src/keeper/store/lock.ts'
import { houseIn, ledgerRules, openLedger } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { type Ledger, startLedger } from '../../src/ledger/apply.ts'
import { utf8Bytes } from '../../src/text/utf8.ts'
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
    expect(houseIn(store, startLedger({}), 0).topics).toBeUndefined()
    await store.close()
  })

  it.each(NONSENSE)('all of them %j: the keeper starts, counts what comes, and reads as before', async text => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    expect(house.reading('W01')).toMatchObject({ openings: 1 })
    const names = [
      'topics',
      'deaf',
      'alerts',
      'links',
      'reusedIn',
      'olderSession',
      'lastLive',
      'timeKnown',
      'started',
      'born',
      'clientId',
    ]
    const facts = Object.fromEntries(names.map(name => [name, text]))
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

  it.each([...NONSENSE, 'with a space', 'x'.repeat(24)])(
    'a client id %j: one that every broker takes is made, once',
    async clientId => {
      const store = open()
      store.commitBatch({ entries: [], facts: { clientId, lastLive: BORN, olderSession: '' } })
      const made = sessionName(store)
      expect(made).toEqual({ clientId: expect.stringMatching(/^[0-9A-Za-z]{22}$/), older: undefined })
      expect(sessionName(store)).toEqual(made)
      await store.close()
    },
  )

  it.each(NONSENSE)('a beginning %j: counting began with the first entry', async born => {
    const store = open()
    store.commitBatch({ entries: [opened(1)], facts: { born } })
    expect(store.replay(BORN).kept).toMatchObject({ count: 1, since: opened(1).at })
    await store.close()
  })

  it.each(NONSENSE.filter(text => text !== ''))(
    'packet ids reused in %j: what looks like a redelivery is kept in doubt',
    text => {
      const heard = { topic: 'ropewalk/w01', payload: utf8Bytes('opened'), retain: false, qos: 1, packetId: 5 } as const
      const session = new Redelivery()
      session.stage({ ...heard, dup: false })
      const taken = [...session.staged.taken]
      const judged = (reusedIn?: string) =>
        new Redelivery({ taken: () => taken, fact: name => (name === 'reusedIn' ? reusedIn : undefined) }).judge({
          ...heard,
          dup: true,
        })
      expect(judged()).toBe('again')
      expect(judged('')).toBe('again')
      expect(judged(text)).toBe('maybe')
    },
  )
})

describe('the file that names the last entry which was answered for', () => {
  const SUM = '0123456789abcdef0123456789abcdef'
  it.each([
    '',
    'no json',
    'null',
    '7',
    '[]',
    '{}',
    '{"seq":"6"}',
    `{"seq":-1,"sum":"${SUM}"}`,
    `{"seq":1.5,"sum":"${SUM}"}`,
    '{"seq":6,"sum":7}',
    '{"seq":6,"sum":"older"}',
  ])('%j: nothing is known, the store opens with all it holds, and the next commit is named again', async text => {
    const folder = tempFolder()
    const path = join(folder, 'tally.sqlite')
    const first = TallyStore.open(folder, 'write', ledgerRules({}))
    first.commitBatch({ entries: [opened(1), opened(2)] })
    await first.close()
    expect(new LastAnswered(path).read()?.seq).toBe(2)
    writeFileSync(`${path}.last`, text)
    expect(new LastAnswered(path).read()).toBeUndefined()
    const again = TallyStore.open(folder, 'write', ledgerRules({}))
    expect(again.length).toBe(2)
    again.commitBatch({ entries: [opened(3)] })
    await again.close()
    expect(new LastAnswered(path).read()?.seq).toBe(3)
  })
})

it('a holder that is none is not shown to whoever finds the place taken', () => {
  const folder = tempFolder()
  const lock = takeLock(folder, '2026-06-01T08:00:00 and\nmore')
  expect(() => takeLock(folder, BORN)).toThrow(/\(another process\)/)
  lock.release()
})
