import { describe, expect, it } from 'vitest'
import { Redelivery } from '../../src/keeper/session/redelivery.ts'
import type { Taken } from '../../src/keeper/session/taken.ts'
import type { Heard } from '../../src/protocol/feed.ts'
import { BenchHouse } from './bench-house.ts'

const MINUTE = 60_000

/** What nats-server 2.9.10 was seen to do when a node was killed: a packet log of a cluster of three nodes. */
class ReusedIds {
  now = 0
  readonly taken: Taken[] = []
  readonly facts: Record<string, string> = {}
  session = this.#start()

  #start(): Redelivery {
    const remembered = { taken: () => this.taken, fact: (name: string) => this.facts[name] }
    return new Redelivery(remembered, () => this.now)
  }

  restart(): void {
    this.session = this.#start()
    this.nextLink()
  }

  comes(word: string, packetId = 1, rest: Partial<Heard> = {}): string {
    const payload = new TextEncoder().encode(word)
    const heard = { topic: 'ropewalk/w07', payload, retain: false, dup: false, qos: 1, packetId, ...rest } as const
    this.session.came(heard)
    const delivery = this.session.judge(heard)
    this.session.stage(heard)
    this.#commit()
    return delivery
  }

  nextLink(): void {
    this.session.linkEnded()
    this.session.stageLink()
    this.#commit()
  }

  #commit(): void {
    const { taken, keepFrom, facts } = this.session.staged
    this.taken.push(...taken)
    while (this.taken[0] && this.taken[0].turn < keepFrom) this.taken.shift()
    Object.assign(this.facts, facts)
    this.session.commit()
  }
}

function spoken(...words: string[]): ReusedIds {
  const broker = new ReusedIds()
  for (const word of ['first', 'second', ...words]) broker.comes(word)
  return broker
}

describe('a word whose acknowledgement may be unread, at a broker that hands packet ids out again at once', () => {
  it('may come again on a later link under another packet id, with DUP or without', () => {
    for (const dup of [false, true]) {
      const broker = spoken('opened')
      broker.nextLink()
      expect(broker.comes('other', 2)).toBe('first')
      broker.nextLink()
      expect(broker.comes('opened', 14, { dup })).toBe('maybe')
    }
  })

  it('is in doubt however many words were held up with it, under packet ids that rise', () => {
    const broker = spoken()
    const words = Array.from({ length: 300 }, (_, n) => `word ${n}`)
    for (const [n, word] of words.entries()) broker.comes(word, n + 2)
    broker.nextLink()
    expect(words.map((word, n) => broker.comes(word, n + 400)).filter(delivery => delivery !== 'maybe')).toEqual([])
  })

  it('may come again on its own link too, where another node goes on with the session', () => {
    const broker = spoken()
    expect([broker.comes('opened', 13), broker.comes('other'), broker.comes('opened')]).toEqual([
      'first',
      'first',
      'maybe',
    ])
  })

  it('is none of another topic or with other bytes', () => {
    const broker = spoken('opened')
    expect(broker.comes('opened', 3, { topic: 'ropewalk/w08' })).toBe('first')
    expect(broker.comes('ajar', 4)).toBe('first')
  })

  it('has its acknowledgement read when its link, or those after it, were up for two minutes', () => {
    const broker = spoken('opened')
    for (let n = 0; n < 4; n++) {
      broker.now += MINUTE / 2
      broker.comes(`sign of life ${n}`)
    }
    broker.nextLink()
    expect(broker.comes('opened', 9)).toBe('first')
  })

  it('waits as long as there is no link', () => {
    const broker = spoken('opened')
    broker.nextLink()
    broker.now += 60 * MINUTE
    expect(broker.comes('opened', 9)).toBe('maybe')
  })

  it('is known through a new start of the keeper, and that it was read is known too', () => {
    const broker = spoken('long ago')
    broker.now += 3 * MINUTE
    broker.comes('opened')
    broker.comes('later')
    broker.restart()
    expect([broker.comes('long ago', 2), broker.comes('opened', 3)]).toEqual(['first', 'maybe'])
  })
})

describe('a broker whose packet ids rise', () => {
  it('has a word like the last taken for new, also after a link on which it went back to an older store', () => {
    const broker = new ReusedIds()
    for (let id = 1; id < 9; id++) broker.comes(`word ${id}`, id)
    broker.nextLink()
    for (let id = 5; id < 9; id++) broker.comes(`other ${id}`, id)
    expect(broker.comes('other 8', 9)).toBe('first')
    expect(broker.facts.acksRead).toBeUndefined()
  })
})

describe('a keeper at a broker that gives what it sends again another packet id and no DUP', () => {
  const word = (boots: number) => `{"word":"opened","boots":${boots}}`

  for (const end of ['the link breaks', 'the keeper is killed'] as const) {
    it(`marks what comes twice when ${end} before the acknowledgement`, async () => {
      const house = new BenchHouse()
      house.broker.renumbers = true
      await house.start()
      for (const boots of [1, 2]) await house.say('ropewalk/w03', word(boots))
      house.feed.losesAcks = true
      await house.say('ropewalk/w03', word(3))
      await house.say('ropewalk/w01', 'opened')
      if (end === 'the link breaks') {
        house.broker.stop()
        house.feed.losesAcks = false
        house.broker.start()
        await house.clock.pass(1)
      } else {
        house.kill()
        await house.start()
      }
      await house.say('ropewalk/w03', word(4))
      expect(house.entries('W03').map(({ boots, maybeAgain }) => [boots, maybeAgain])).toEqual([
        [1, undefined],
        [2, undefined],
        [3, undefined],
        [3, true],
        [4, undefined],
      ])
      expect(house.entries('W01').map(({ maybeAgain }) => maybeAgain)).toEqual([undefined, true])
      expect(house.reading('W03')).toMatchObject({ sends: 4 })
    })
  }

  it('does not take the time of a sleep for one in which the broker read its acknowledgements', async () => {
    const house = new BenchHouse()
    house.broker.renumbers = true
    await house.start()
    for (const boots of [1, 2]) await house.say('ropewalk/w03', word(boots))
    house.feed.losesAcks = true
    await house.say('ropewalk/w02', 'opened')
    await house.say('ropewalk/w01', 'opened')
    const session = house.broker.sessions.get('keeper')!
    session.out = session.out.filter(({ topic }) => topic !== 'ropewalk/w02')
    house.clock.sleep(3_600)
    // What had come to the machine before its link ended.
    await house.say('ropewalk/w03', word(3))
    house.broker.stop()
    house.feed.losesAcks = false
    house.broker.start()
    await house.clock.pass(1)
    expect(house.entries('W01').map(({ maybeAgain }) => maybeAgain)).toEqual([undefined, true])
  })

  it('takes a like word of the next link for new where packet ids rise, as MQTT-4.4.0-1 has what is sent again keep its own', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(1)
    await house.say('ropewalk/w01', 'opened')
    expect(house.entries('W01').map(({ maybeAgain }) => maybeAgain)).toEqual([undefined, undefined])
  })

  it('takes no packet id for one that came again because its disk refused the word once, or a link broke meanwhile', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.sql.exec('pragma query_only = 1')
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(1)
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(1)
    house.sql.exec('pragma query_only = 0')
    await house.clock.pass(40)
    await house.say('ropewalk/w01', 'opened')
    expect(house.store.fact('acksRead') ?? '').toBe('')
    expect(house.entries('W01').map(({ maybeAgain }) => maybeAgain)).toEqual([undefined, undefined, undefined])
  })
})
