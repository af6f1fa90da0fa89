import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { parseAlert } from '../../src/protocol/alert.ts'
import type { AlertSettings } from '../../src/register/types.ts'
import { Receiver } from '../support/receiver.ts'
import { until } from '../support/until.ts'
import { BenchHouse, registerOf } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const TOPIC = 'ropewalk/tally/alert'
const HOUR = 3600
const asking = (alerts: AlertSettings) => ({ ...registerOf(), alerts })

let house: BenchHouse
beforeEach(() => {
  house = new BenchHouse()
})
const alerts = () => house.broker.log.filter(({ topic }) => topic === TOPIC)
const lines = () =>
  alerts().map(({ text }) => {
    const note = parseAlert(text)
    return `${note?.what} ${note?.marks.join(',')}`
  })

describe('a keeper whose register asks for alerts', () => {
  it('publishes each once, not retained, over beats, an orderly end and a kill', async () => {
    house.register = asking({ openLongMinutes: 60 })
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(HOUR - 60)
    expect(lines()).toEqual([])
    await house.clock.pass(120)
    expect(lines()).toEqual(['open-long W01'])
    expect(alerts()[0]).toMatchObject({ retain: false })
    house.kill()
    await house.start()
    await house.clock.pass(HOUR)
    await house.keeper.stop()
    house.clock.dropTimers()
    house.sql.close()
    await house.start()
    await house.clock.pass(HOUR)
    expect(lines()).toEqual(['open-long W01'])
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(2 * HOUR)
    expect(lines()).toEqual(['open-long W01', 'open-long W01'])
  })

  it('tells what was on its way at an orderly end once, and the rest at the next start', async () => {
    house.register = asking({ openLongMinutes: 60, bedtime: '10:00' })
    await house.start()
    const publish = house.feed.publish.bind(house.feed)
    let goesOut = (): void => {}
    house.feed.publish = async (topic, ...rest) => {
      if (topic === TOPIC) {
        await new Promise<void>(done => {
          goesOut = done
        })
      }
      return publish(topic, ...rest)
    }
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(HOUR + 60)
    const stopped = house.keeper.stop()
    await settle()
    goesOut()
    await stopped
    house.clock.dropTimers()
    house.sql.close()
    const told = lines()
    expect(told).toHaveLength(1)
    await house.start()
    await house.clock.pass(60)
    expect(lines().sort()).toEqual(['open-at-bedtime W01', 'open-long W01'])
  })

  it('tells nothing while its link is down, and what is still so when it is back', async () => {
    house.register = asking({ openLongMinutes: 60, bedtime: '22:30' })
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.say('ropewalk/d01', 'ajar', { retain: true })
    house.broker.stop()
    await house.clock.pass(4 * HOUR)
    expect(lines()).toEqual([])
    house.broker.publish('ropewalk/d01', 'shut', { retain: true })
    house.broker.start()
    await house.clock.pass(60)
    expect(lines()).toEqual(['open-long W01'])
  })

  it('says of what went unheard only that, when the broker forgot its session', async () => {
    house.register = asking({ openLongMinutes: 60 })
    await house.start()
    await house.person('W02', { id: 's1', what: 'seen-closed' })
    house.broker.stop({ forget: true })
    await house.clock.pass(HOUR)
    house.broker.start()
    await house.clock.pass(60)
    expect(lines()).toEqual(['unheard W02'])
    house.kill()
    await house.start()
    await house.clock.pass(60)
    expect(lines()).toEqual(['unheard W02'])
  })

  it('begins with an edit that asks for them, and ends with one that does not', async () => {
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(2 * HOUR)
    expect(lines()).toEqual([])
    house.keeper.adopt(asking({ openLongMinutes: 60 }))
    await house.clock.pass(60)
    expect(lines()).toEqual(['open-long W01'])
    house.keeper.adopt(registerOf())
    await house.say('ropewalk/w02', 'opened')
    await house.clock.pass(2 * HOUR)
    expect(lines()).toEqual(['open-long W01'])
  })

  it('tells them while the disk refuses, and remembers them when it takes entries again', async () => {
    house.register = asking({ openLongMinutes: 60 })
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    house.sql.exec('pragma query_only = on')
    await house.clock.pass(HOUR + 60)
    expect(lines()).toEqual(['open-long W01'])
    house.sql.exec('pragma query_only = off')
    await house.clock.pass(120)
    house.kill()
    await house.start()
    await house.clock.pass(HOUR)
    expect(lines()).toEqual(['open-long W01'])
  })
})

describe('an address that takes alerts', () => {
  let receiver: Receiver
  beforeEach(async () => {
    receiver = await new Receiver().start()
  })
  afterEach(() => receiver.stop())

  /** Opens a window for too long and waits until the receiver was asked. */
  async function tooLong(to = `${receiver.url}/hook?key=12345`): Promise<void> {
    house.register = asking({ openLongMinutes: 60, to })
    await house.start()
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(HOUR - 60)
    // The clock stands still from here on: what is posted has all the time that it needs.
    while (lines().length === 0) await house.clock.pass(1)
    expect(lines()).toEqual(['open-long W01'])
  }
  const posts = (count: number) => until(`post ${count}`, () => receiver.posted.length >= count)
  const said = (what: RegExp) =>
    until(String(what), async () => {
      await settle()
      return house.told.some(line => what.test(line))
    })

  it('gets each as a CloudEvent in structured mode, with what the topic says', async () => {
    await tooLong()
    await posts(1)
    const [{ method, path, headers, body }] = receiver.posted as [Receiver['posted'][number]]
    expect([method, path]).toEqual(['POST', '/hook?key=12345'])
    // CloudEvents HTTP Protocol Binding 1.0.2, section 3.2, from memory.
    expect(headers['content-type']).toMatch(/^application\/cloudevents\+json(;|$)/)
    expect(body).toMatchObject({
      specversion: '1.0',
      type: 'sashtally.alert.open-long',
      source: 'mqtt://broker.lan:1883/ropewalk/tally/alert',
      datacontenttype: 'application/json',
      data: JSON.parse(alerts()[0]!.text),
    })
    await house.clock.pass(HOUR)
    expect(receiver.posted).toHaveLength(1)
    expect(house.state()).not.toHaveProperty('problem')
  })

  it('that fails is tried again, with the same id, until it takes it; what was said of it goes', async () => {
    receiver.answer = 503
    await tooLong()
    await said(/an alert does not reach http:\/\/127\.0\.0\.1:\d+: the answer was 503; trying on/)
    expect(house.told.join()).not.toMatch(/12345/)
    await house.clock.pass(30)
    await posts(2)
    expect(house.state()?.problem).toMatch(/503; trying on/)
    receiver.answer = 200
    await until('the next try', async () => {
      await house.clock.pass(30)
      return receiver.posted.length >= 3
    })
    await until('the end of the problem', async () => {
      await house.clock.pass(30)
      return house.state()?.problem === undefined
    })
    expect(new Set(receiver.posted.map(({ body }) => body.id)).size).toBe(1)
    const count = receiver.posted.length
    await house.clock.pass(2 * HOUR)
    expect(receiver.posted).toHaveLength(count)
  })

  it.each([400, 404, 301])('that refuses with %s is not asked again, and the sheet says so', async status => {
    receiver.answer = status
    await tooLong()
    await said(
      new RegExp(
        `an alert was dropped \\(open-long: W01\\), http://127.0.0.1:\\d+ did not take it: the answer was ${status}`,
      ),
    )
    await house.clock.pass(2 * HOUR)
    expect(receiver.posted).toHaveLength(1)
    expect(house.state()?.problem).toMatch(/dropped/)
    await house.clock.pass(24 * HOUR)
    expect(house.state()?.problem).toBeUndefined()
  })

  it('that takes the connection and never answers costs nobody anything', async () => {
    receiver.answer = 'stall'
    await tooLong()
    await posts(1)
    await house.say('ropewalk/w02', 'opened')
    expect(house.reading('W02')).toMatchObject({ position: 'open' })
    await house.clock.pass(10)
    await said(/no answer within 10 s; trying on/)
    await house.keeper.stop()
    expect(house.told.at(-1)).toMatch(/^1 alert was not handed on before the end$/)
  })

  it('that dies is tried six times within the hour, then the alert is dropped', async () => {
    receiver.answer = 'die'
    await tooLong()
    await until('the last try', async () => {
      await house.clock.pass(60)
      return house.told.some(line => /dropped/.test(line))
    })
    expect(receiver.posted).toHaveLength(6)
    await house.clock.pass(2 * HOUR)
    expect(receiver.posted).toHaveLength(6)
  })

  it('where nobody listens is told of by what the system says', async () => {
    await receiver.stop()
    await tooLong()
    await said(/does not reach http:\/\/127\.0\.0\.1:\d+: ECONNREFUSED; trying on/)
    await receiver.start()
    await until('the next try', async () => {
      await house.clock.pass(10)
      return receiver.posted.length >= 1
    })
  })
})
