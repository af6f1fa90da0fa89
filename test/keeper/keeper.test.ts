import { describe, expect, it } from 'vitest'
import { leftOf } from '../../src/house/forecast.ts'
import type { LeftByMark } from '../../src/house/state.ts'
import type { Forecast, ForecastAsk } from '../../src/keeper/forecast/forecast.ts'
import type { Left } from '../../src/protocol/reading.ts'
import { atOnce, BenchHouse, HOUSE, registerOf } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const OPENED = 'opened'

describe('a plain word', () => {
  it('that somebody else publishes, or takes away, is set right at once', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    const topic = 'ropewalk/tally/plain/W01'
    for (const spoofed of ['closed', '']) {
      const from = house.broker.log.length
      await house.say(topic, spoofed, { retain: true })
      expect(house.broker.text(topic)).toBe('may-be-open')
      expect(house.broker.log.slice(from).filter(each => each.topic === topic)).toHaveLength(2)
      await house.clock.pass(11)
    }
  })

  it('of its own that comes back is not published again', async () => {
    const house = new BenchHouse()
    await house.start()
    const from = house.broker.log.length
    for (let n = 0; n < 3; n++) {
      await house.say('ropewalk/d01', 'ajar')
      await house.say('ropewalk/d01', 'shut')
    }
    await house.clock.pass(120)
    const words = house.broker.log.slice(from).filter(({ topic }) => topic === 'ropewalk/tally/plain/D01')
    for (const [n, { text }] of words.entries()) expect(text).not.toBe(words[n - 1]?.text)
  })
})

describe('a topic of the keeper’s own', () => {
  const topics = ['register', 'opening/W01', 'opening/X99', 'plain/W01', 'story/W01'].map(
    each => `ropewalk/tally/${each}`,
  )

  it('that somebody else publishes on is set right at once, and told', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    const standing = (topic: string) => house.broker.text(topic)?.replace(/,"asOf":"[^"]*"/, '')
    for (const topic of topics) {
      const before = standing(topic)
      await house.say(topic, JSON.stringify({ v: 1, mark: 'W01', position: 'closed' }), { retain: true })
      await house.clock.pass(1)
      expect([topic, standing(topic)]).toEqual([topic, before])
      await house.clock.pass(10)
    }
    expect(house.state()?.problem).toMatch(/somebody else published on ropewalk\/tally\/story\/W01/)
    expect(house.told.filter(line => line.startsWith('somebody else'))).toHaveLength(topics.length)
  })

  it('is not fought over: two writers come to a word in ten seconds each, and the keeper has the last', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    const topic = 'ropewalk/tally/plain/W01'
    const rival = house.broker.feed('rival')
    rival.listen([topic])
    rival.open({
      link: () => {},
      heard: ({ payload }) => {
        if (Buffer.from(payload).toString() !== 'closed') void rival.publish(topic, 'closed', { retain: true })
      },
    })
    await rival.publish(topic, 'closed', { retain: true })
    const from = house.broker.log.length
    await house.clock.pass(60)
    const own = house.broker.log.slice(from).filter(each => each.topic === topic && each.text === 'may-be-open')
    expect(own.length).toBeGreaterThan(3)
    expect(own.length).toBeLessThan(9)
    await rival.close()
    await house.clock.pass(11)
    expect(house.broker.text(topic)).toBe('may-be-open')
  })
})

describe('a word', () => {
  it('is on the disk before it is acknowledged, and its reading follows', async () => {
    const house = new BenchHouse()
    await house.start()
    const before = house.feed.acked
    house.broker.publish('ropewalk/w01', OPENED)
    expect(house.feed.acked).toBe(before)
    await settle()
    expect(house.entries()).toMatchObject([
      { mark: 'W01', what: 'opened', how: 'live', at: '2026-06-01T08:00:00.010Z' },
    ])
    expect(house.feed.acked).toBe(before + 1)
    expect(house.reading('W01')).toMatchObject({ v: 1, name: 'Dye room', position: 'open', openings: 1, sends: 1 })
    expect(house.broker.text('ropewalk/tally/plain/W01')).toBe('may-be-open')
  })

  it('ends as time passes: open, then opened, without another word', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', OPENED)
    await house.clock.pass(20)
    expect(house.reading('W01')).toMatchObject({ position: 'opened', since: '2026-06-01T08:00:00.010Z' })
  })

  it('that came in one turn with others shares their transaction', async () => {
    const house = new BenchHouse()
    let commits = 0
    await house.start({}, store => {
      const commit = store.commitBatch.bind(store)
      store.commitBatch = batch => {
        commits++
        commit(batch)
      }
      return store
    })
    for (let n = 0; n < 500; n++) house.broker.publish('ropewalk/w03', `{"word":"opened","boots":${n}}`)
    await settle()
    expect(house.entries()).toHaveLength(500)
    expect(commits).toBeLessThan(9)
    expect(house.reading('W03')).toMatchObject({ sends: 500 })
  })

  it('tells for how long the link had been live', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(3600)
    await house.say('ropewalk/w01', 'asleep')
    expect(house.entries()[0]?.linkLiveSeconds).toBeGreaterThan(3599)
    expect(house.reading('W01')?.doubts).toContain('faint')
  })

  it('that is a retained copy is kept once and never counts', async () => {
    const house = new BenchHouse()
    house.broker.publish('ropewalk/w01', 'asleep', { retain: true })
    await house.start()
    expect(house.entries()).toMatchObject([{ how: 'retained', what: 'rest' }])
    for (let n = 0; n < 3; n++) {
      house.broker.stop()
      house.broker.start()
      await house.clock.pass(1)
    }
    expect(house.entries()).toHaveLength(1)
    expect(house.reading('W01')).toMatchObject({ position: 'no-word', openings: 0, sends: 0 })
  })
})

describe('words that waited at the broker', () => {
  it('carry the interval in which they happened', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w02', OPENED)
    await house.clock.pass(60)
    house.kill()
    await house.clock.pass(3600)
    house.broker.publish('ropewalk/w01', OPENED)
    house.broker.publish('ropewalk/w01', 'asleep')
    await house.start()
    await house.say('ropewalk/w02', OPENED)
    const [first, second] = house.entries('W01')
    expect(first).toMatchObject({ how: 'queued', what: 'opened', until: '2026-06-01T09:01:00.010Z' })
    expect(Date.parse(first!.at)).toBeGreaterThanOrEqual(Date.parse('2026-06-01T08:00:00.010Z'))
    expect(Date.parse(first!.at)).toBeLessThanOrEqual(Date.parse('2026-06-01T08:01:00.010Z'))
    expect(second).toMatchObject({ how: 'queued', what: 'rest' })
    expect(house.entries('W02').at(-1)).toMatchObject({ how: 'live', at: '2026-06-01T09:01:00.020Z' })
    expect(house.reading('W01')).toMatchObject({ position: 'opened', openings: 1 })
    expect(house.told.join('\n')).toMatch(/2 words had waited at the broker since 2026-06-01T08:/)
  })

  it('of a new session are none: what is said then is live', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', OPENED)
    expect(house.entries()[0]?.how).toBe('live')
  })

  it('are recognised although the first marker was dropped by a full queue', async () => {
    const house = new BenchHouse()
    await house.start()
    house.kill()
    house.broker.publish('ropewalk/w01', OPENED)
    const publish = house.broker.publish.bind(house.broker)
    let dropped = 0
    house.broker.publish = (topic, ...rest) => {
      if (topic.includes('/echo/') && dropped++ < 2) return
      publish(topic, ...rest)
    }
    await house.start()
    await house.say('ropewalk/w02', OPENED)
    expect(house.entries().map(({ mark, how }) => [mark, how])).toEqual([
      ['W01', 'queued'],
      ['W02', 'queued'],
    ])
    await house.clock.pass(12)
    await house.say('ropewalk/d01', 'ajar')
    expect(house.entries('D01')[0]?.how).toBe('live')
  })
})

describe('what stands at the broker', () => {
  it('is the register without secrets, a reading, a plain word and a story an opening, and the keeper', async () => {
    const house = new BenchHouse()
    await house.start()
    expect([...house.broker.retained.keys()].sort()).toEqual(
      [
        'ropewalk/tally/keeper',
        ...['D01', 'W01', 'W02', 'W03'].flatMap(mark => [
          `ropewalk/tally/opening/${mark}`,
          `ropewalk/tally/plain/${mark}`,
        ]),
        'ropewalk/tally/register',
        ...['D01', 'W01', 'W02', 'W03'].map(mark => `ropewalk/tally/story/${mark}`),
      ].sort(),
    )
    const register = house.broker.text('ropewalk/tally/register')!
    expect(JSON.parse(register)).toMatchObject({
      v: 1,
      house: 'Ropewalk Studios',
      openings: [{ mark: 'W01', policy: { keepAliveSeconds: 4 } }, {}, {}, {}],
    })
    expect(register).not.toMatch(/broker|ropewalk\/w01|rww01|client/)
    expect(house.state()).toMatchObject({ v: 1, state: 'live' })
  })

  it('is published only where it changed', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.clock.pass(1)
    const from = house.broker.log.length
    await house.say('ropewalk/w01', OPENED)
    expect(house.broker.log.slice(from).map(({ topic }) => topic)).toEqual([
      'ropewalk/w01',
      'ropewalk/tally/opening/W01',
      'ropewalk/tally/plain/W01',
    ])
    house.broker.stop()
    house.broker.start()
    const again = house.broker.log.length
    await house.clock.pass(0.5)
    expect(house.broker.log.slice(again).filter(({ topic }) => /opening|plain|register/.test(topic))).toEqual([])
  })

  it('comes back from the store at a broker that forgot everything', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', OPENED)
    const before = house.reading('W01')
    house.broker.stop({ forget: true })
    house.broker.start()
    await house.clock.pass(0.5)
    const { asOf: _, ...after } = house.reading('W01')!
    expect(before).toMatchObject(after)
    expect(house.broker.retained.size).toBe(14)
    expect(house.broker.retained.has('ropewalk/w01')).toBe(false)
  })

  it('gets the rest words back only on the owner’s command, and they do not count', async () => {
    const house = new BenchHouse()
    house.broker.publish('ropewalk/w02', 'asleep', { retain: true })
    await house.start({ giveRestWords: true })
    await house.clock.pass(1)
    expect(house.broker.text('ropewalk/w01')).toBe('asleep')
    expect(house.broker.text('ropewalk/d01')).toBeUndefined()
    expect(house.entries('W01')).toEqual([])
    expect(house.told).toContain('2 rest words were given back to the broker, retained')
    await house.say('ropewalk/w01', 'asleep')
    expect(house.entries('W01')).toHaveLength(1)
  })

  it('has a beat every 30 s, the will after a death, and gone after an end', async () => {
    const house = new BenchHouse()
    await house.start()
    const beats = () => house.broker.log.filter(({ topic }) => topic === 'ropewalk/tally/keeper').length
    const before = beats()
    await house.clock.pass(300)
    expect(beats() - before).toBe(10)
    expect(house.state()).toMatchObject({ state: 'live', beat: '2026-06-01T08:05:00.000Z' })
    house.kill()
    expect(house.state()?.state).toBe('gone')
    await house.start()
    expect(house.state()?.state).toBe('live')
    await house.keeper.stop()
    expect(house.state()).toMatchObject({ state: 'gone', beat: '2026-06-01T08:05:00.020Z' })
  })
})

describe('an edited register', () => {
  const edit = (house: BenchHouse, text: string) => {
    house.register = registerOf(text)
    house.keeper.adopt(house.register)
    return house.clock.pass(1)
  }

  it('brings a new opening and takes one away with its topics', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w02', OPENED)
    await edit(
      house,
      HOUSE.replace("{ mark: W02, name: 'Loft', sender: coin }", "{ mark: W09, name: 'Porch', sender: coin }"),
    )
    expect(house.reading('W02')).toBeUndefined()
    expect(house.broker.text('ropewalk/tally/plain/W02')).toBeUndefined()
    await house.say('ropewalk/w09', OPENED)
    expect(house.reading('W09')).toMatchObject({ position: 'open' })
    await house.say('ropewalk/w02', OPENED)
    expect(house.entries('W02')).toHaveLength(1)
    await edit(house, HOUSE)
    expect(house.reading('W02')).toMatchObject({ openings: 1 })
  })

  it('what left while the keeper was down is cleared at the next start', async () => {
    const house = new BenchHouse()
    await house.start()
    house.kill()
    house.register = registerOf(HOUSE.replace("  - { mark: W02, name: 'Loft', sender: coin }\n", ''))
    await house.start()
    expect(house.broker.text('ropewalk/tally/opening/W02')).toBeUndefined()
    expect(house.broker.text('ropewalk/tally/plain/W02')).toBeUndefined()
    expect(house.broker.text('ropewalk/tally/story/W02')).toBeUndefined()
    expect(house.broker.retained.size).toBe(11)
  })

  it('keeps the history of a mark that was renamed', async () => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w02', OPENED)
    await edit(house, HOUSE.replace('{ mark: W02,', '{ mark: L02, was: [W02], topic: ropewalk/w02, client: rww02,'))
    expect(house.reading('L02')).toMatchObject({ openings: 1, name: 'Loft' })
    await house.clock.pass(60)
    await house.say('ropewalk/w02', OPENED)
    expect(house.reading('L02')).toMatchObject({ openings: 2 })
    expect((await house.person('L02', { id: 'a', what: 'seen-closed' }))?.ok).toBe(true)
  })

  it('that changes how openings count counts the whole tally again, and loses no word meanwhile', async () => {
    const house = new BenchHouse()
    await house.start()
    for (let n = 0; n < 60; n++) {
      await house.say('ropewalk/w01', OPENED)
      await house.clock.pass(20)
    }
    expect(house.reading('W01')).toMatchObject({ openings: 1, sends: 60 })
    const edited = edit(house, HOUSE.replace('timezone:', 'bounceSeconds: 10\ntimezone:'))
    house.broker.publish('ropewalk/w02', OPENED)
    await edited
    await house.clock.pass(1)
    expect(house.reading('W01')).toMatchObject({ openings: 60, sends: 60 })
    expect(house.reading('W02')).toMatchObject({ openings: 1 })
  })

  it('that is broken keeps the last good one and says so', async () => {
    const house = new BenchHouse()
    await house.start()
    house.keeper.refuseEdit(
      'ropewalk.yaml has 2 errors since 10:02: the register before it holds; run `sashtally check ropewalk.yaml`',
    )
    await settle()
    expect(house.state()).toMatchObject({
      state: 'live',
      problem: expect.stringMatching(/2 errors since 10:02: the register before it holds/),
    })
    await house.say('ropewalk/w01', OPENED)
    expect(house.reading('W01')).toMatchObject({ position: 'open' })
    await edit(house, HOUSE)
    await house.clock.pass(30)
    expect(house.state()?.problem).toBeUndefined()
  })
})

describe('until when the link was live', () => {
  it('is known to ten minutes after a death in a quiet house, and found out without wearing the disk', async () => {
    const house = new BenchHouse()
    await house.start()
    let commits = 0
    const fact = () => Date.parse(house.store.fact('lastLive') ?? '')
    const seen = new Set<number>()
    for (let n = 0; n < 120; n++) {
      await house.clock.pass(30)
      if (!seen.has(fact())) commits++
      seen.add(fact())
    }
    expect(house.clock.now() - fact()).toBeLessThanOrEqual(630_000)
    expect(commits).toBeLessThan(8)
  })
})

describe('what is left of a cell', () => {
  it('is not known where no forecast can be made: said, and the readings go out without it', async () => {
    const house = new BenchHouse()
    await house.start({ forecast: () => Promise.reject(new Error('out of order')) })
    expect(house.told).toContain('no forecast of the cells: out of order')
    expect(house.reading('W01')).toMatchObject({ position: 'no-word' })
    expect(house.reading('W01')).not.toHaveProperty('left')
  })

  /** A keeper that has ended: W01 was seen shut, for certain. */
  const seenShut = async (): Promise<BenchHouse> => {
    const house = new BenchHouse()
    await house.start()
    await house.say('ropewalk/w01', OPENED)
    await house.clock.pass(60)
    await house.person('W01', { id: 'shut', what: 'seen-closed' })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: [] })
    await house.keeper.stop()
    house.kill()
    return house
  }

  it('keeps no house from its link where its first forecast hangs: said, and no silent cell is certain until it comes', async () => {
    const house = await seenShut()
    let come = (_: LeftByMark): void => {}
    const forecast: Forecast = (_, { give }) => {
      give()
      return new Promise(done => {
        come = done
      })
    }
    await house.start({ forecast })
    expect(house.state()?.state, 'it waits').toBe('gone')
    await house.clock.pass(15)
    expect(house.state()).toMatchObject({
      state: 'live',
      problem: expect.stringMatching(/no forecast of the cells yet/),
    })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: ['overdue'] })
    come({})
    await house.clock.pass(30)
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: [] })
    expect(house.state()).not.toHaveProperty('problem')
  })

  it('is no fault where the first forecast waits for those of other houses: said only after five minutes', async () => {
    const house = new BenchHouse()
    const asks: ForecastAsk[] = []
    let come = (_: LeftByMark): void => {}
    const forecast: Forecast = (_, ask) => {
      asks.push(ask)
      return new Promise(done => {
        come = done
      })
    }
    await house.start({ forecast })
    await house.clock.pass(290)
    expect(house.state()).toMatchObject({ state: 'live' })
    expect(house.state()).not.toHaveProperty('problem')
    await house.clock.pass(20)
    expect(house.state()?.problem).toMatch(/no forecast of the cells yet/)
    asks[0]!.give()
    come({})
    await house.clock.pass(30)
    expect(house.state()).not.toHaveProperty('problem')
    expect(house.told.filter(line => line.includes('no forecast of the cells yet'))).toHaveLength(1)
  })

  it('makes no silent cell certain while no forecast can be made: said, and over with the first that is', async () => {
    const house = await seenShut()
    let tries = 0
    const forecast: Forecast = (of, ask) =>
      ++tries === 1 ? Promise.reject(new Error('out of order')) : atOnce(leftOf)(of, ask)
    await house.start({ forecast })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: ['overdue'] })
    expect(house.state()).toMatchObject({ problems: [{ code: 'forecast' }] })
    await house.say('ropewalk/w02', OPENED)
    await house.clock.pass(30)
    expect(tries, 'in the pause').toBe(1)
    await house.clock.pass(600)
    expect(tries).toBe(2)
    expect(house.reading('W01')).toMatchObject({ position: 'closed', doubts: [] })
    expect(house.state()).not.toHaveProperty('problems')
  })

  it('is forecast before the link is made: what was doubtful does not read as certain for a moment', async () => {
    const house = new BenchHouse()
    let give: (left: LeftByMark) => void = () => {}
    const forecast = new Promise<LeftByMark>(done => {
      give = done
    })
    await house.start({
      forecast: (_, ask) => {
        ask.give()
        return forecast
      },
    })
    await house.clock.pass(5)
    expect(house.broker.log).toEqual([])
    give({})
    await house.clock.pass(1)
    expect(house.reading('W01')).toBeDefined()
  })

  it('is taken back at once with the cell that it was said of', async () => {
    const house = new BenchHouse()
    const forecasts: (() => void)[] = []
    const later: Forecast = (house, ask) =>
      new Promise((done, failed) => forecasts.push(() => void atOnce(leftOf)(house, ask).then(done, failed)))
    const start = house.start({ forecast: later })
    forecasts.shift()?.()
    await start
    await house.say('ropewalk/w01', OPENED)
    await house.clock.pass(4)
    forecasts.shift()?.()
    await house.clock.pass(1)
    expect(house.reading('W01')?.left).toBeDefined()
    await house.person('W01', { id: 'c1', what: 'cell-fitted' })
    expect(house.reading('W01')).not.toHaveProperty('left')
    forecasts.shift()?.()
    await house.clock.pass(1)
    expect(house.reading('W01')?.left).toBeDefined()
  })

  it('is published anew as the days pass: a contact that has fallen silent is more likely dead than not', async () => {
    const house = new BenchHouse()
    await house.start({ forecast: atOnce(leftOf) })
    for (let n = 0; n < 12; n++) {
      await house.say('ropewalk/w01', OPENED)
      await house.clock.pass(3_600)
    }
    const left = () => house.reading('W01')?.left as Left | undefined
    expect(left()?.p50).toBeGreaterThan(0)
    expect(left()?.alive).toBeGreaterThan(0.9)
    expect(house.reading('W01')?.doubts).not.toContain('overdue')
    // Twelve openings, taken as those of a fortnight: eight days of silence have a chance of (14 / 22)^12.5, 4 in 1000.
    await house.clock.pass(8 * 86_400)
    expect(left()?.alive).toBeLessThan(0.2)
    expect(left()?.silence?.days).toBeCloseTo(8, 0)
    expect(house.reading('W01')?.doubts).toContain('overdue')
    const { next, alive } = left()!
    expect(next / alive!).toBeGreaterThan(0.9)
  })

  it('brings the early warning of a first word that comes later', async () => {
    const house = new BenchHouse()
    await house.start({ forecast: atOnce(leftOf) })
    for (const [n, seconds] of [3.6, 3.7, 3.65, 3.8, 3.9, 4.1, 4.5, 4.8, 5.4, 6].entries()) {
      await house.person('W01', { id: `p${n}`, what: 'proved', joinMilliseconds: seconds * 1000 })
      await house.clock.pass(3600)
    }
    expect(house.reading('W01')?.left).toMatchObject({ slowJoin: { words: 10 } })
  })
})

describe('a cell that reads low', () => {
  it('is noted once, and stays low until a new one is fitted', async () => {
    const house = new BenchHouse()
    await house.start({ forecast: atOnce(leftOf) })
    for (let n = 0; n < 25; n++) {
      await house.say('ropewalk/w01', OPENED)
      await house.clock.pass(60)
    }
    const notes = () => [...house.store.entries({ marks: ['W01'] })].filter(entry => entry.by === 'sashtally')
    expect(notes()).toMatchObject([{ what: 'note', how: 'live', text: 'low' }])
    expect(house.reading('W01')?.doubts).toContain('low')
    await house.person('W01', { id: 'c1', what: 'cell-fitted', cell: { type: 'CR2032', millivolts: 3210 } })
    await house.clock.pass(60)
    expect(house.reading('W01')).toMatchObject({ sends: 0, doubts: ['untested'] })
    expect(notes()).toHaveLength(1)
  })

  it('is not called low for a failed test that is taken back', async () => {
    const house = new BenchHouse()
    await house.start({ forecast: atOnce(leftOf) })
    await house.say('ropewalk/w01', OPENED)
    await house.clock.pass(60)
    expect(house.reading('W01')?.doubts).not.toContain('low')
    await house.person('W01', { id: 'f1', what: 'failed' })
    await house.clock.pass(60)
    expect(house.reading('W01')?.doubts).toContain('spent')
    await house.person('W01', { id: 'u1', what: 'undone', undoes: 'f1' })
    await house.clock.pass(60)
    expect(house.reading('W01')?.doubts).not.toContain('low')
    expect([...house.store.entries({ marks: ['W01'] })].filter(entry => entry.by === 'sashtally')).toEqual([])
  })
})
