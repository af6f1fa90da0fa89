import { describe, expect, it } from 'vitest'
import { challenge } from '../../src/keeper/session/challenge.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import type { StoryNote } from '../../src/protocol/story.ts'
import { BenchHouse, HOUSE, registerOf } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const word = (boots: number) => `{"word":"opened","boots":${boots}}`

describe('a disk that refuses', () => {
  const troubles: [string, (house: BenchHouse) => void, (house: BenchHouse) => void, RegExp][] = [
    [
      'because it is full',
      house => {
        const { page_count } = house.sql.prepare('pragma page_count').get([]) as { page_count: number }
        house.sql.exec(`pragma max_page_count = ${page_count}`)
      },
      house => house.sql.exec('pragma max_page_count = 1000000'),
      /tally\.sqlite: the disk is full: free some space and it goes on by itself/,
    ],
    [
      'because it is read-only',
      house => house.sql.exec('pragma query_only = 1'),
      house => house.sql.exec('pragma query_only = 0'),
      /tally\.sqlite: the disk or the file is read-only: make it writable and it goes on by itself/,
    ],
  ]
  for (const [why, spoil, heal, sentence] of troubles) {
    it(`${why} makes the keeper broken, acknowledges nothing, and loses nothing once it is well`, async () => {
      const house = new BenchHouse()
      await house.start()
      await house.say('ropewalk/w03', word(1))
      spoil(house)
      const acked = house.feed.acked
      for (let n = 2; n <= 400; n++) house.broker.publish('ropewalk/w03', word(n))
      await settle()
      expect(house.feed.acked).toBe(acked)
      expect(house.entries('W03')).toHaveLength(1)
      expect(house.state()).toMatchObject({ state: 'broken', problem: expect.stringMatching(sentence) })
      expect(house.told.filter(line => sentence.test(line))).toHaveLength(1)
      await house.clock.pass(45)
      expect(house.state()?.state).toBe('broken')
      heal(house)
      await house.clock.pass(40)
      expect(house.entries('W03').map(({ boots }) => boots)).toEqual(Array.from({ length: 400 }, (_, n) => n + 1))
      expect(house.feed.acked).toBe(acked + 399)
      expect(house.state()).toMatchObject({ state: 'live' })
      expect(house.state()?.problem).toBeUndefined()
      expect(house.reading('W03')).toMatchObject({ sends: 400 })
    })

    it(`${why} is found before a word comes, and what was not acknowledged comes again after a death`, async () => {
      const house = new BenchHouse()
      await house.start()
      await house.say('ropewalk/w03', word(1))
      spoil(house)
      await house.clock.pass(61)
      if (why.includes('read-only')) expect(house.state()?.state).toBe('broken')
      for (let n = 2; n <= 300; n++) house.broker.publish('ropewalk/w03', word(n))
      await settle()
      house.kill()
      await house.start()
      expect(house.entries('W03').map(({ boots }) => boots)).toEqual(Array.from({ length: 300 }, (_, n) => n + 1))
    })
  }

  it('does not keep a stopped keeper busy: nothing is tried again once its store may be closed', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.sql.exec('pragma query_only = 1')
    await house.say('ropewalk/w01', 'opened')
    expect(house.state()?.state).toBe('broken')
    await house.keeper.stop()
    await house.store.close()
    await house.clock.pass(120)
    await house.start()
    expect(house.entries('W01')).toHaveLength(2)
  })

  it('drops words at QoS 0 only when very many wait, and says how many', async () => {
    const house = new BenchHouse()
    await house.start()
    house.sql.exec('pragma query_only = 1')
    await house.say('ropewalk/w01', 'opened')
    for (let n = 0; n < 20_010; n++) house.broker.publish('ropewalk/w02', 'opened', { qos: 0 })
    house.sql.exec('pragma query_only = 0')
    await house.clock.pass(5)
    for (let n = 0; n < 100; n++) await settle()
    expect(house.entries()).toHaveLength(20_000)
    expect(house.told).toContain('11 words at QoS 0 were dropped while the disk refused')
  })
})

describe('a clock that is set back a day', () => {
  it('is said, and every word counts in the order in which it came', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/d01', 'ajar')
    house.clock.set(-86_400_000)
    await house.say('ropewalk/d01', 'shut')
    expect(house.reading('D01')?.position).toBe('closed')
    expect(house.entries('D01').map(({ at }) => at.slice(0, 10))).toEqual(['2026-06-01', '2026-05-31'])
    expect(house.state()).toMatchObject({
      state: 'live',
      problem: expect.stringMatching(
        /clock was set back by 86400 s, to 2026-05-31T08:00:00.*entries keep the order in which they came/,
      ),
    })
    await house.clock.pass(60)
    expect(house.state()?.beat).toBe('2026-05-31T08:01:00.000Z')
    house.kill()
    await house.start()
    expect(house.reading('D01')?.position).toBe('closed')
    await house.say('ropewalk/d01', 'ajar')
    expect(house.reading('D01')?.position).toBe('open')
  })

  it('is not believed where it was set while the keeper was dead, and believed when nobody sets it for a day', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.kill()
    house.broker.publish('ropewalk/w01', 'opened')
    house.clock.set(-86_400_000)
    await house.start()
    expect(house.entries('W01')[1], 'not in the future').toMatchObject({
      at: '2026-05-31T08:00:00.010Z',
      how: 'queued',
    })
    expect(house.entries('W01')[1]).not.toHaveProperty('until')
    expect(house.state()?.problem).toMatch(/it was 2026-06-01T08:00:00.010Z already: set the clock, or leave it/)
    await house.clock.pass(86_430)
    expect(house.state()?.problem).toMatch(/clock was left for a day and is believed, at 2026-06-01T08:00/)
    await house.say('ropewalk/w02', 'opened')
    expect(house.entries('W02')).toMatchObject([{ how: 'live', at: expect.stringMatching(/^2026-06-01T08:00/) }])
    const { since, sinceUntil } = house.reading('W01') as unknown as Reading
    expect(since, 'no interval runs backwards').toBe('2026-05-31T08:00:00.010Z')
    expect(sinceUntil).toMatch(/^2026-06-01T08:00/)
  })
})

describe('a clock that was years ahead once, and is right now', () => {
  const AHEAD = 4 * 365 * 86_400_000
  const ahead = async () => {
    const house = new BenchHouse()
    house.clock.set(AHEAD)
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    house.kill()
    house.broker.publish('ropewalk/w02', 'opened')
    house.clock.set(-AHEAD)
    await house.start()
    return house
  }
  /** What is wrong with the times of the readings and stories. */
  const falseTimes = (house: BenchHouse): string[] => {
    const now = new Date(house.clock.now()).toISOString()
    return ['W01', 'W02', 'W03', 'D01'].flatMap(mark => {
      const { since = '', sinceUntil, last, provenAt = '' } = house.reading(mark) as unknown as Reading
      const story = house.broker.json(`ropewalk/tally/story/${mark}`) as unknown as StoryNote
      const spans = [[since, sinceUntil], [last?.at ?? '', last?.until], [provenAt], ...story.openings]
      return spans.filter(([at, until]) => at! > (until ?? now) || at! > now).map(span => `${mark} ${span}`)
    })
  }

  it('dates nothing into the future: what comes has an earliest time alone, and the sheet says why', async () => {
    const house = await ahead()
    await house.say('ropewalk/w03', word(1))
    for (const mark of ['W02', 'W03']) {
      const [entry] = house.entries(mark)
      expect(entry).toMatchObject({ how: 'queued', at: expect.stringMatching(/^2026-06-01T08:01/) })
      expect(entry).not.toHaveProperty('until')
    }
    expect(house.state()?.problem).toMatch(/clock says 2026-06-01T08:01.* it was 2030-05-31T08:0.* or leave it/)
    await house.clock.pass(86_430)
    expect(falseTimes(house).filter(line => !line.startsWith('W01'))).toEqual([])
    expect(house.reading('W03')).toMatchObject({ sinceUntil: expect.stringMatching(/^2026-06-02T08:0/) })
  })

  it('makes no interval run backwards at the next start, and what it proved proves nothing', async () => {
    const house = await ahead()
    await house.say('ropewalk/w03', word(1))
    expect(house.reading('W01')?.doubts).toContain('untested')
    await house.clock.pass(60)
    house.kill()
    await house.start()
    await house.clock.pass(60)
    expect(falseTimes(house)).toEqual([])
    expect(house.reading('W01')).toMatchObject({
      position: 'opened',
      sinceUntil: expect.stringMatching(/^2026-06-01T08:0/),
    })
    await house.say('ropewalk/w03', word(2))
    expect(house.entries('W03').at(-1)).toMatchObject({ how: 'live', at: expect.stringMatching(/^2026-06-01T08:0/) })
  })
})

describe('a clock in the past at the start', () => {
  const YEARS = 6 * 365 * 86_400_000
  const SET = /clock was set forward, to 2026-06-01T/

  it('is said until it is set, and what comes has the time from the last that is known to when it is set', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.kill()
    house.broker.publish('ropewalk/w02', 'opened')
    house.clock.set(-YEARS)
    await house.clock.pass(3_600)
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(10)
    await house.say('ropewalk/w01', 'asleep', { retain: true })
    await house.say('ropewalk/d01', 'ajar', { retain: true })
    for (const entry of [...house.entries('W02'), ...house.entries('W01').slice(1)]) {
      expect(entry).toMatchObject({ how: 'queued', at: expect.stringMatching(/^2026-06-01T08:00:/) })
      expect(entry, 'nobody knows until when').not.toHaveProperty('until')
    }
    for (const mark of ['W01', 'W02', 'D01']) expect(house.reading(mark)).toMatchObject({ notBefore: true })
    const story = (mark: string) => house.broker.json(`ropewalk/tally/story/${mark}`)
    const since = expect.stringMatching(/^2026-06-01T08:00:/)
    await house.clock.pass(60)
    expect(story('W02'), 'nor when in the story').toMatchObject({ openings: [[since, since]], notBefore: [since] })
    expect(house.state()?.problem).toMatch(
      /this machine's clock says 2020-06-02T09:00:00.* it was 2026-06-01T08:00:00.010Z already: set the clock/,
    )
    house.clock.set(YEARS)
    await house.clock.pass(31)
    expect(house.state()?.problem).toMatch(SET)
    expect(house.state()?.problem).not.toMatch(/set the clock/)
    for (const mark of ['W01', 'W02', 'D01']) {
      const { since, sinceUntil, last, notBefore } = house.reading(mark) as unknown as Reading
      expect([mark, since]).toEqual([mark, expect.stringMatching(/^2026-06-01T08:00:/)])
      expect([mark, sinceUntil]).toEqual([mark, expect.stringMatching(/^2026-06-01T09:0/)])
      expect(last).toMatchObject({ how: 'queued', until: sinceUntil })
      expect(notBefore).toBeUndefined()
    }
    expect(house.reading('W01')).toMatchObject({ position: 'opened', openings: 2 })
    await house.clock.pass(60)
    const set = expect.stringMatching(/^2026-06-01T09:0/)
    for (const [mark, openings] of Object.entries({
      W01: [[since], [since, set]],
      W02: [[since, set]],
      D01: [[since, set]],
    })) {
      expect(story(mark)).toMatchObject({ openings })
      expect(story(mark)).not.toHaveProperty('notBefore')
    }
    await house.say('ropewalk/w01', 'opened')
    expect(house.entries('W01').at(-1)).toMatchObject({ how: 'live', at: expect.stringMatching(/^2026-06-01T09:0/) })
  })

  it('of a store that never knew another is not believed either: the program did not exist then', async () => {
    const house = new BenchHouse('1970-01-01T00:03:00.000Z')
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    expect(house.entries('W01')).toMatchObject([{ how: 'queued', at: expect.stringMatching(/^2026-01-01T/) }])
    house.clock.set(Date.parse('2026-06-01T09:00:00.000Z') - house.clock.now())
    await house.clock.pass(31)
    expect(house.reading('W01')).toMatchObject({
      since: expect.stringMatching(/^2026-01-01T/),
      sinceUntil: expect.stringMatching(/^2026-06-01T09:00/),
    })
  })

  it('that is set while the keeper is dead: what came meanwhile ends at the next start, and it does not pass for the last time known', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(60)
    house.kill()
    house.clock.set(-YEARS)
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(700)
    house.kill()
    await house.start()
    await house.say('ropewalk/w02', 'opened')
    expect(house.entries('W02')).toMatchObject([{ how: 'queued', at: expect.stringMatching(/^2026-06-01T08:1/) }])
    house.kill()
    house.clock.set(YEARS)
    await house.start()
    for (const mark of ['W01', 'W02'])
      expect(house.reading(mark)).toMatchObject({ sinceUntil: expect.stringMatching(/^2026-06-01T08:1/) })
  })

  it('that looked right, and is set forward within a day, makes the times of that day intervals', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(90)
    await house.person('W02', { id: 's1', what: 'seen-closed' })
    house.clock.set(3 * 86_400_000)
    await house.clock.pass(31)
    const W01 = { position: 'opened', since: '2026-06-01T08:00:00.010Z' }
    expect(house.reading('W01')).toMatchObject({ ...W01, sinceUntil: expect.stringMatching(/^2026-06-04T08:0/) })
    expect(house.reading('W02')).toMatchObject({ sinceUntil: expect.stringMatching(/^2026-06-04T08:0/) })
    expect(house.reading('W03')).not.toHaveProperty('sinceUntil')
    await house.clock.pass(2 * 86_400)
    await house.say('ropewalk/w03', word(1))
    house.clock.set(3_600_000)
    await house.clock.pass(31)
    expect(house.reading('W03'), 'after days the clock was right').not.toHaveProperty('sinceUntil')
  })

  it('since it was set there while the keeper ran: as one that started so, until it is set right', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(2 * 86_400)
    const right = house.clock.now()
    house.clock.set(5_000 - right)
    await house.say('ropewalk/w01', 'opened')
    expect(house.entries('W01')).toMatchObject([{ how: 'queued', at: expect.stringMatching(/^2026-06-03T08:00/) }])
    expect(house.reading('W01')).toMatchObject({ notBefore: true })
    expect(house.state()?.problem).toMatch(
      /clock says 1970-01-01T00:00.* it was 2026-06-03T0[78]:.* already: set the clock/,
    )
    house.clock.set(right - 5_000)
    await house.clock.pass(31)
    expect(house.reading('W01')).toMatchObject({ sinceUntil: expect.stringMatching(/^2026-06-03T08:00/) })
    expect(house.state()?.problem).not.toMatch(/set the clock/)
  })

  async function openedBeforeTheClockWasSet(): Promise<BenchHouse> {
    const house = new BenchHouse()
    await house.start()
    house.kill()
    house.clock.set(-YEARS)
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.clock.set(YEARS + 3_600_000)
    return house
  }

  it('lets no look of a later time close what may have been opened after it', async () => {
    const house = await openedBeforeTheClockWasSet()
    await house.person('W01', { id: 's1', what: 'seen-closed', at: '2026-06-01T08:30:00.000Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'opened' })
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    expect(house.reading('W01')).toMatchObject({ position: 'closed' })
  })

  it('lets a look of a time after it was set close what was opened before', async () => {
    const house = await openedBeforeTheClockWasSet()
    await house.clock.pass(3 * 3_600)
    await house.person('W01', { id: 's1', what: 'seen-closed', at: '2026-06-01T08:30:00.000Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'opened' })
    await house.person('W01', { id: 's2', what: 'seen-closed', at: '2026-06-01T11:00:00.000Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', since: '2026-06-01T11:00:00.000Z' })
  })

  it('that looked right: a look of the time in between does not close what may have been opened after it', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.clock.set(3 * 86_400_000)
    await house.clock.pass(31)
    await house.person('W01', { id: 's1', what: 'seen-closed', at: '2026-06-03T08:00:00.000Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'opened' })
    await house.clock.pass(3_600)
    await house.person('W01', { id: 's2', what: 'seen-closed', at: '2026-06-04T09:00:00.000Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'closed' })
  })
})

describe('a broker', () => {
  it('that refuses is named with its reason, and the keeper tries on', async () => {
    const house = new BenchHouse()
    house.broker.isUp = false
    await house.start()
    house.feed.refuse('bad user name or password')
    expect(house.told).toContain('the broker refuses: bad user name or password; trying on')
    house.broker.start()
    await house.clock.pass(1)
    expect(house.state()?.state).toBe('live')
  })

  it('that refuses one subscription still gets the rest kept', async () => {
    const house = new BenchHouse()
    await house.start()
    house.broker.unreadable.add('ropewalk/w02')
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(1)
    await house.say('ropewalk/w01', 'opened')
    expect(house.reading('W01')?.position).toBe('open')
    expect(house.told.join('\n')).toMatch(/does not let this account read ropewalk\/w02/)
    expect(house.state()?.problem).toMatch(/does not let this account read ropewalk\/w02/)
  })

  it('that gives nothing back of what the keeper publishes is said by the fifth second, with the topic to allow', async () => {
    const house = new BenchHouse()
    const warned: string[] = []
    const publish = house.broker.publish.bind(house.broker)
    house.broker.publish = (topic, ...rest) => {
      if (!topic.includes('/echo/')) publish(topic, ...rest)
    }
    await house.start({ tell: (line, code) => code === 'silent' && warned.push(line) })
    await house.clock.pass(4)
    expect(warned).toEqual([])
    await house.clock.pass(60)
    const problem =
      'nothing comes back of what is published on ropewalk/tally/keeper/echo/+: the broker must let this account write and read ropewalk/tally/keeper/echo/+'
    expect(warned).toEqual([problem])
    expect(house.state()).toMatchObject({ state: 'broken', problem })
    house.broker.publish = publish
    await house.clock.pass(6)
    expect(house.state()).toMatchObject({ state: 'live' })
    expect(house.state()?.problem).toBeUndefined()
  })

  it('that takes nothing from the keeper is not asked ten times a second', async () => {
    const house = new BenchHouse()
    let tries = 0
    const feed = house.broker.feed('keeper')
    feed.publish = () => {
      tries++
      return Promise.reject(new Error('not authorised'))
    }
    await house.start({ feed })
    await house.clock.pass(60)
    expect(tries).toBeGreaterThan(10)
    expect(tries).toBeLessThan(25)
  })

  it('that comes back without its sessions is said with the times between which words are missing', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.broker.stop({ forget: true })
    await house.clock.pass(60)
    house.broker.start()
    await house.clock.pass(1)
    expect(house.state()?.problem).toMatch(
      /came back without the keeper's session: words between 2026-06-01T08:00:00.010Z and 2026-06-01T08:01:00.*only a boot count can show them/,
    )
    expect(house.entries('W01')).toHaveLength(1)
    await house.clock.pass(25 * 3600)
    expect(house.state()?.problem).toBeUndefined()
  })

  it('that forgot the session: the boot count shows what was missed, and is looked at', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w03', word(5))
    await house.clock.pass(60)
    house.broker.stop({ forget: true })
    await house.clock.pass(600)
    house.broker.start()
    await house.clock.pass(30)
    await house.say('ropewalk/w03', word(9))
    expect(house.told.at(-1)).toMatch(/^W03 booted 3 times more than was heard while the keeper was away/)
    await house.clock.pass(60)
    await house.say('ropewalk/w03', word(10))
    expect(house.told.filter(line => line.includes('booted'))).toHaveLength(1)
  })

  it('whose queue ran over: only the boot count shows what it dropped', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w03', word(1))
    house.kill()
    for (let n = 2; n <= 1_001; n++) house.broker.publish('ropewalk/w03', word(n))
    await house.start()
    expect(house.state()?.problem).toMatch(
      /1000 words had waited.*only a boot count can show; raise its limit \(max_queued_messages\)/,
    )
    expect(house.state()?.problem).not.toMatch(/booted/)
    await house.say('ropewalk/w03', word(1_014))
    expect(house.told.at(-1)).toMatch(
      /W03 booted 12 times more than was heard while the keeper was away: the broker's queue may have been full/,
    )
    await house.say('ropewalk/w03', word(1_020))
    expect(house.told.filter(line => line.includes('booted'))).toHaveLength(1)
  })
})

describe('one keeper a house', () => {
  const signal = new AbortController().signal
  const silences: string[] = []
  const ask = (house: BenchHouse, name: string) =>
    challenge(
      house.broker.feed(`scout-${name}`, { clean: true }),
      'ropewalk/tally',
      name,
      house.clock,
      { link: () => {}, silent: () => silences.push(name) },
      signal,
    )

  it('a second one is told since when the first is at work', async () => {
    const house = new BenchHouse()
    await house.start()
    const asked = ask(house, 'zz')
    await house.clock.pass(3)
    expect(await asked).toEqual({ free: false, since: '2026-06-01T08:00:00.000Z' })
    expect(house.state()?.state).toBe('live')
  })

  it('the retained ghost of a dead one cannot answer', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(60)
    const ghost = house.broker.retained.get('ropewalk/tally/keeper')!
    house.kill()
    house.broker.retained.set('ropewalk/tally/keeper', ghost)
    const asked = ask(house, 'zz')
    await house.clock.pass(3)
    const found = await asked
    expect(found.free).toBe(true)
    if (found.free) await found.release()
    await house.start()
    expect(house.state()).toMatchObject({ state: 'live', since: '2026-06-01T08:01:03.010Z' })
  })

  it('of two that ask at once one gets the place', async () => {
    const house = new BenchHouse()
    const [a, b] = [ask(house, 'aa'), ask(house, 'bb')]
    await house.clock.pass(5)
    expect([(await a).free, (await b).free]).toEqual([true, false])
  })

  it('waits for a broker that is not there yet', async () => {
    const house = new BenchHouse()
    house.broker.isUp = false
    let settled = false
    const asked = ask(house, 'zz').then(found => {
      settled = true
      return found
    })
    await house.clock.pass(600)
    expect(settled).toBe(false)
    house.broker.start()
    await house.clock.pass(5)
    expect((await asked).free).toBe(true)
  })

  it('one whose question never comes back says so once, and asks on', async () => {
    const house = new BenchHouse()
    const publish = house.broker.publish.bind(house.broker)
    house.broker.publish = () => {}
    const asked = ask(house, 'mute')
    await house.clock.pass(4)
    expect(silences).not.toContain('mute')
    await house.clock.pass(600)
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(60)
    expect(silences.filter(name => name === 'mute')).toHaveLength(1)
    house.broker.publish = publish
    await house.clock.pass(3)
    expect((await asked).free).toBe(true)
    const heard = ask(house, 'loud')
    await house.clock.pass(60)
    await heard
    expect(silences).not.toContain('loud')
  })

  it('one that is stopped while it asks asks no more, and leaves nothing at the signal', async () => {
    const house = new BenchHouse()
    const stopping = new AbortController()
    const listeners = { added: 0, removed: 0 }
    const { addEventListener, removeEventListener } = AbortSignal.prototype
    stopping.signal.addEventListener = (...given: Parameters<typeof addEventListener>) => {
      listeners.added++
      addEventListener.apply(stopping.signal, given)
    }
    stopping.signal.removeEventListener = (...given: Parameters<typeof removeEventListener>) => {
      listeners.removed++
      removeEventListener.apply(stopping.signal, given)
    }
    const hooks = { link: () => {}, silent: () => {} }
    const asking = (name: string) =>
      challenge(house.broker.feed(name, { clean: true }), 'ropewalk/tally', name, house.clock, hooks, stopping.signal)
    const first = asking('first')
    await house.clock.pass(3)
    expect((await first).free).toBe(true)
    expect(listeners).toEqual({ added: 1, removed: 1 })
    house.broker.isUp = false
    const second = asking('second')
    stopping.abort(new Error('stopped'))
    await expect(second).rejects.toThrow('stopped')
    await expect(asking('third')).rejects.toThrow('stopped')
  })

  const note = { v: 1, state: 'live', beat: '2026-06-01T08:01:00.000Z', since: '2026-06-01T08:00:30.000Z' }
  const endOf = (house: BenchHouse) => {
    const end: { why?: string } = {}
    void house.keeper.ended.then(why => {
      end.why = why
    })
    return end
  }
  const comeBackTo = async (house: BenchHouse, meanwhile: () => void, { taken }: { taken?: true } = {}) => {
    house.feed.cut(taken ? { taken } : {})
    await house.clock.pass(60)
    house.broker.publish('ropewalk/tally/keeper', JSON.stringify(note), { retain: true })
    meanwhile()
    house.feed.join()
    await house.clock.pass(5)
  }
  const givesWay = 'another keeper of this tally has been at work since 2026-06-01T08:00:30.000Z: this one ends'

  it('one that was cut off gives way to the one that took its place meanwhile and answers', async () => {
    const house = new BenchHouse()
    await house.start()
    const end = endOf(house)
    await comeBackTo(house, () => {
      const other = house.broker.feed('other')
      other.listen(['ropewalk/tally/keeper/echo/+'])
      other.open({
        link: () => {},
        heard({ topic, payload }) {
          const { kind } = JSON.parse(Buffer.from(payload).toString())
          const answer = { v: 1, kind: 'answer', keeper: 'other', since: note.since }
          if (kind === 'question') void other.publish(topic, JSON.stringify(answer))
        },
      })
    })
    expect(end.why).toBe(givesWay)
  })

  it('one whose session another took gives way: that one was thrown off and cannot answer', async () => {
    const house = new BenchHouse()
    await house.start()
    const end = endOf(house)
    await comeBackTo(house, () => {}, { taken: true })
    expect(end.why).toBe(givesWay)
  })

  it('one that meets the state of a dead one, come back with an older store of the broker, goes on', async () => {
    const house = new BenchHouse()
    await house.start()
    const end = endOf(house)
    for (let n = 0; n < 2; n++) {
      await comeBackTo(house, () => {})
      expect(end.why).toBeUndefined()
      expect(house.state()).toMatchObject({ state: 'live' })
      expect(house.state()?.since).not.toBe(note.since)
    }
    await house.say('ropewalk/w01', 'opened')
    expect(house.reading('W01')).toMatchObject({ position: 'open' })
  })

  it('one whose link broke comes back to its own will and goes on', async () => {
    const house = new BenchHouse()
    await house.start()
    let why: string | undefined
    void house.keeper.ended.then(text => {
      why = text
    })
    for (let n = 0; n < 5; n++) {
      house.feed.cut()
      await house.clock.pass(10)
      house.feed.join()
      await house.clock.pass(1)
    }
    expect(why).toBeUndefined()
    expect(house.state()?.state).toBe('live')
  })
})

describe('the register', () => {
  it('that names another broker or tally needs a new start, and says so', async () => {
    const house = new BenchHouse()
    await house.start()
    house.keeper.adopt(registerOf(HOUSE.replace('broker.lan', 'other.lan')))
    await house.clock.pass(31)
    expect(house.state()?.problem).toMatch(/names another broker or tally: end the keeper and start it again/)
  })
})
