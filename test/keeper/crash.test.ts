import { describe, expect, it } from 'vitest'
import type { TallyStore } from '../../src/keeper/store/store.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import { BenchHouse } from './bench-house.ts'
import { settle } from './fake-broker.ts'

/** Ends the process inside the next commit that holds an entry: before anything is written, or when all is. */
const dying = (house: BenchHouse, where: 'before-write' | 'after-write') => (store: TallyStore<Ledger>) => {
  const commit = store.commitBatch.bind(store)
  let done = false
  store.commitBatch = batch => {
    if (done || batch.entries.length === 0) return commit(batch)
    done = true
    if (where === 'after-write') commit(batch)
    house.feed.losesAcks = true
    house.kill()
  }
  return store
}

const word = (n: number) => `{"word":"opened","boots":${n}}`

describe('a keeper that is killed', () => {
  for (const where of ['before-write', 'after-write'] as const) {
    it(`${where} counts each word once after its next start`, async () => {
      const house = new BenchHouse()
      await house.start()
      await house.say('ropewalk/w03', word(1))
      house.kill()
      await house.start({}, dying(house, where))
      for (const n of [2, 3, 4]) house.broker.publish('ropewalk/w03', word(n))
      await settle()
      expect(house.feed.isClosed).toBe(true)
      await house.start()
      await house.clock.pass(1)
      expect(house.entries('W03').map(({ boots }) => boots)).toEqual([1, 2, 3, 4])
      expect(house.reading('W03')).toMatchObject({ sends: 4 })
    })
  }

  it('before its acknowledgement went out counts each word once, also without a boot count', async () => {
    const house = new BenchHouse()
    await house.start()
    const { acked } = house.feed
    house.feed.losesAcks = true
    await house.say('ropewalk/w01', 'opened')
    await house.say('ropewalk/w01', 'asleep')
    expect(house.feed.acked).toBe(acked)
    house.kill()
    await house.start()
    expect(house.entries('W01').map(({ what, how }) => [what, how])).toEqual([
      ['opened', 'live'],
      ['rest', 'live'],
    ])
    expect(house.feed.acked).toBeGreaterThan(1)
  })

  it('after its acknowledgement went out hears nothing again', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    expect(house.broker.sessions.get('keeper')?.out).toEqual([])
    house.kill()
    await house.start()
    expect(house.entries('W01')).toHaveLength(1)
  })

  it('takes the same bytes for a new word when the broker gives them a new packet id', async () => {
    const house = new BenchHouse()
    await house.start()
    house.feed.losesAcks = true
    await house.say('ropewalk/w01', 'opened')
    house.kill()
    house.broker.publish('ropewalk/w01', 'opened')
    await house.start()
    expect(house.entries('W01').map(({ how }) => how)).toEqual(['live', 'queued'])
    expect(house.reading('W01')).toMatchObject({ sends: 2 })
  })

  it('keeps a word that a broker from an older store gave a used packet id, and marks it', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    const { packet } = house.store.taken().at(-1)!
    house.kill()
    await house.start({}, dying(house, 'before-write'))
    // As a broker that forgot that it had used this packet id.
    house.broker.sessions.get('keeper')!.packetId = packet - 1
    await house.say('ropewalk/w01', 'opened')
    expect(house.feed.isClosed).toBe(true)
    await house.start()
    expect(house.entries('W01').map(({ what, how, maybeAgain }) => [what, how, maybeAgain])).toEqual([
      ['opened', 'live', undefined],
      ['opened', 'queued', true],
    ])
    expect(house.reading('W01')).toMatchObject({ sends: 2 })
  })

  it('is certain of a word that is delivered again to the next keeper, after a link that was lost too', async () => {
    const house = new BenchHouse()
    await house.start()
    house.feed.losesAcks = true
    await house.say('ropewalk/w01', 'opened')
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(1)
    house.kill()
    await house.start()
    expect(house.entries('W01')).toHaveLength(1)
  })

  it('forgets what it took of a session that the broker has forgotten', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    expect(house.store.taken()).toHaveLength(1)
    house.kill()
    house.broker.sessions.clear()
    await house.start()
    const session = house.broker.sessions.get('keeper')!
    // A new session's first words may have the packet ids of the old one's, with DUP after a lost delivery.
    session.packetId = 0
    house.feed.deliver(session, {
      topic: 'ropewalk/w01',
      payload: new TextEncoder().encode('opened'),
      qos: 1,
      packetId: 1,
      dup: true,
    })
    await settle()
    expect(house.entries('W01')).toHaveLength(2)
    expect(house.store.taken()).toHaveLength(1)
  })

  it('and a say that was committed is answered when it is delivered again', async () => {
    const house = new BenchHouse()
    await house.start()
    house.feed.losesAcks = true
    await house.person('W01', { id: 'a1', what: 'seen-closed' })
    house.kill()
    const from = house.broker.log.length
    await house.start()
    expect(house.entries('W01')).toHaveLength(1)
    expect(house.broker.log.slice(from).filter(({ topic }) => topic === 'ropewalk/tally/heard/a1')).toHaveLength(1)
  })
})

describe('the same entries', () => {
  it('give the same reading whether the keeper lived through them or died after each', async () => {
    const script = ['opened', 'asleep', 'opened', 'opened', 'asleep', 'asleep', 'opened']
    const lived = new BenchHouse()
    const died = new BenchHouse()
    await lived.start()
    await died.start()
    for (const text of script) {
      for (const house of [lived, died]) await house.say('ropewalk/w01', text)
      died.kill()
      await died.start()
      for (const house of [lived, died]) await house.clock.pass(40)
    }
    const bare = (house: BenchHouse) => {
      const { last: _, since: __, asOf: ___, provenAt: ____, ...rest } = house.reading('W01')!
      return rest
    }
    expect(bare(died)).toEqual(bare(lived))
    expect(died.entries('W01')).toHaveLength(script.length)
  })
})
