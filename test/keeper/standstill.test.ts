import { describe, expect, it } from 'vitest'
import { BenchHouse } from './bench-house.ts'
import { settle } from './fake-broker.ts'

describe('a keeper that was stopped for a while', () => {
  it('gives what came meanwhile the interval of its standstill, accuses no cell, and is live again afterwards', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(3_600)
    house.clock.stand(40)
    // The process wakes: its timers come first, then what the broker had sent.
    house.broker.publish('ropewalk/w01', 'asleep', { retain: true })
    house.broker.publish('ropewalk/w02', 'opened')
    await house.clock.pass(1)
    expect(house.entries().map(({ mark, how }) => [mark, how])).toEqual([
      ['W01', 'queued'],
      ['W02', 'queued'],
    ])
    const [{ at, until } = { at: '', until: '' }] = house.entries('W01')
    expect(Date.parse(until!) - Date.parse(at)).toBeGreaterThanOrEqual(40_000)
    expect(house.reading('W01')?.doubts).not.toContain('faint')
    await house.say('ropewalk/w02', 'asleep')
    expect(house.entries('W02').map(({ how }) => how)).toEqual(['queued', 'live'])
  })

  it('is taken for awake where its timers come a little late', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(3_600)
    for (let n = 0; n < 30; n++) {
      house.clock.stand(2)
      await house.say('ropewalk/w01', 'opened')
    }
    expect(new Set(house.entries('W01').map(({ how }) => how))).toEqual(new Set(['live']))
  })
})

describe('a keeper that was away right after it had looked', () => {
  const looked = async (): Promise<BenchHouse> => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w03', '{"word":"opened","boots":1}')
    // A last look, and nothing has been missed yet.
    await house.clock.pass(3_600)
    return house
  }
  const WAYS: readonly (readonly [string, (house: BenchHouse) => void])[] = [
    ['machine slept for 12 s', house => house.clock.sleep(12)],
    ['machine slept for 2 s', house => house.clock.sleep(2)],
    ['machine was paused and had its clock set right before what waited came', house => house.clock.set(30_000)],
    ...[2.5, 4, 8, 12, 12.9].flatMap(seconds => [
      [
        `process was stopped for ${seconds} s, timers first`,
        (house: BenchHouse) => house.clock.stand(seconds),
      ] as const,
      [`process was stopped for ${seconds} s, words first`, (house: BenchHouse) => house.clock.stop(seconds)] as const,
    ]),
  ]

  for (const [what, leave] of WAYS) {
    it(`and whose ${what} accuses no cell and gives what waited both ends`, async () => {
      const house = await looked()
      leave(house)
      const wake = new Date(house.clock.now()).toISOString()
      for (const [n, text] of [
        [1, 'opened'],
        [2, 'opened'],
        [1, 'asleep'],
        [2, 'asleep'],
      ])
        house.broker.publish(`ropewalk/w0${n}`, `${text}`)
      house.broker.publish('ropewalk/w03', '{"word":"asleep"}')
      await settle()
      for (const mark of ['W01', 'W02', 'W03']) {
        for (const { how, at, until, what } of house.entries(mark).slice(mark === 'W03' ? 1 : 0)) {
          expect([mark, what, how, until]).toEqual([mark, what, 'queued', wake])
          expect(Date.parse(at), mark).toBeLessThanOrEqual(Date.parse('2026-06-01T09:00:00.010Z'))
        }
        const { doubts } = house.reading(mark) as { doubts: string[] }
        expect(doubts, mark).not.toContain('twin')
        expect(doubts, mark).not.toContain('faint')
      }
      await house.say('ropewalk/w02', 'opened')
      expect(house.entries('W02').at(-1)?.how, 'what comes after it').toBe('live')
    })
  }
})

describe('a standstill whose marker is lost', () => {
  it('ends with another one, be it refused or dropped', async () => {
    const house = new BenchHouse()
    await house.start()
    const publish = house.feed.publish.bind(house.feed)
    const lost: (() => Promise<void>)[] = [() => Promise.reject(new Error('the queue is full')), async () => {}]
    house.feed.publish = (topic, ...rest) => {
      const lose = topic.includes('/echo/') ? lost.shift() : undefined
      return lose ? lose() : publish(topic, ...rest)
    }
    house.clock.sleep(30)
    await house.say('ropewalk/w01', 'opened')
    expect(house.entries('W01').map(({ how }) => how)).toEqual(['queued'])
    await house.clock.pass(60)
    expect(lost).toEqual([])
    await house.say('ropewalk/w02', 'opened')
    expect(house.entries('W02').map(({ how }) => how)).toEqual(['live'])
  })
})

describe('a machine that slept for a while', () => {
  const slept = async (): Promise<BenchHouse> => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(3_605)
    house.clock.sleep(30)
    return house
  }

  it('gives what came meanwhile the time from before its sleep to now, and accuses no cell', async () => {
    const house = await slept()
    // Its timers slept too: what waited comes before any of them.
    house.broker.publish('ropewalk/w01', 'asleep', { retain: true })
    house.broker.publish('ropewalk/w02', 'opened')
    await settle()
    for (const mark of ['W01', 'W02']) {
      const [{ how, at, until } = { how: '', at: '', until: '' }] = house.entries(mark)
      expect([mark, how, until]).toEqual([mark, 'queued', '2026-06-01T09:00:35.010Z'])
      expect(Date.parse(at), mark).toBeLessThanOrEqual(Date.parse('2026-06-01T09:00:05.010Z'))
    }
    expect(house.reading('W01')?.doubts).not.toContain('faint')
    await house.say('ropewalk/w02', 'asleep')
    expect(
      house.entries('W02').map(({ how }) => how),
      'what comes after it is live',
    ).toEqual(['queued', 'live'])
  })

  it('was not set: no time of its day is doubted, and nothing is said of a clock', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.clock.sleep(7_200)
    await house.clock.pass(60)
    expect(house.reading('W01')).toMatchObject({ position: 'opened', since: '2026-06-01T08:00:00.010Z' })
    expect(house.reading('W01')).not.toHaveProperty('sinceUntil')
    expect(house.state()).not.toHaveProperty('problem')
  })

  it('and whose clock was set in its sleep is told that, by how much', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.clock.sleep(7_200)
    house.clock.set(3_600_000)
    await house.clock.pass(60)
    expect(house.state()?.problem).toMatch(/clock was set forward by 3600 s/)
    expect(house.reading('W01')).toHaveProperty('sinceUntil')
  })

  it('knows until when it listened, though the broker’s last answer waited too', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(3_605)
    house.keeper.refuseEdit('ropewalk.yaml has 2 errors')
    house.clock.sleep(30)
    await settle()
    expect(house.state()?.problem, 'it was answered').toMatch(/2 errors/)
    house.broker.stop()
    house.broker.publish('ropewalk/w02', 'opened')
    house.broker.start()
    await house.clock.pass(1)
    const [{ how, at } = { how: '', at: '' }] = house.entries('W02')
    expect(how).toBe('queued')
    expect(Date.parse(at)).toBeLessThanOrEqual(Date.parse('2026-06-01T09:00:05.010Z'))
  })
})
