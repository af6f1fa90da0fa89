import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import type { ConnectionEvents, Ended } from '../../src/link/connection.ts'
import type { FeedOptions } from '../../src/link/feed-options.ts'
import type { Version } from '../../src/link/mqtt/packet.ts'
import { mqttFeed } from '../../src/link/mqtt-feed.ts'
import type { Heard, LinkState } from '../../src/protocol/feed.ts'

beforeEach(() => void vi.useFakeTimers({ now: 0 }))
afterEach(() => void vi.useRealTimers())

/** One attempt of a feed at a connection that the test plays. */
interface Attempt {
  readonly at: number
  readonly url: string
  readonly version: Version
  readonly keepAliveSeconds: number
  readonly events: ConnectionEvents
  readonly asked: string[]
  readonly dropped: (Error | undefined)[]
  live(sessionPresent?: boolean): void
  end(how?: Ended): void
}

/** A feed over connections without a network; its waits are the longest that may be drawn. */
function start(options: Partial<FeedOptions> & { heard?: (message: Heard) => void | Promise<void> } = {}) {
  const { heard = () => {}, ...more } = options
  const attempts: Attempt[] = []
  const states: LinkState[] = []
  const errors: unknown[] = []
  let answer: () => Promise<readonly number[]> = async () => []
  const feed = mqttFeed({
    url: 'mqtt://ropewalk.example',
    clientId: 'wall1',
    retry: { firstSeconds: 1, mostSeconds: 8 },
    random: () => 1 - Number.EPSILON,
    onListenerError: error => errors.push(error),
    connect: (url, { version, keepAliveSeconds }, events) => {
      let isLive = false
      const asked: string[] = []
      const dropped: (Error | undefined)[] = []
      attempts.push({
        at: Date.now(),
        url,
        version,
        keepAliveSeconds,
        events,
        asked,
        dropped,
        live: (sessionPresent = false) => {
          isLive = true
          events.live(sessionPresent)
        },
        end: (how = {}) => {
          isLive = false
          events.ended(how)
        },
      })
      return {
        get isLive() {
          return isLive
        },
        subscribe: filters => {
          asked.push(`+ ${filters}`)
          return answer()
        },
        unsubscribe: async filters => void asked.push(`- ${filters}`),
        publish: async () => 0,
        end: async () => {},
        drop: error => void dropped.push(error),
      }
    },
    ...more,
  })
  feed.open({ heard, link: state => void states.push(state) })
  return {
    feed,
    attempts,
    states,
    errors,
    last: () => attempts.at(-1)!,
    said: () => states.map(state => ('why' in state && state.why ? `${state.state}: ${state.why}` : state.state)),
    answers: (next: typeof answer) => {
      answer = next
    },
  }
}
const seconds = (count: number) => vi.advanceTimersByTimeAsync(count * 1000)
const versions = (attempts: readonly Attempt[]) => attempts.map(({ version }) => version)
const pulled = { error: new Error('a cable was pulled') }
const word: Heard = {
  topic: 'ropewalk/w01',
  payload: new Uint8Array(0),
  retain: false,
  dup: false,
  qos: 1,
  packetId: 7,
}

test('a wall asks for a keep-alive of 10 s: a broker that falls silent is noticed within two of them', () => {
  const { last } = start()
  expect(last().keepAliveSeconds).toBe(10)
  const patient = start({ keepAliveSeconds: 30 })
  expect(patient.last().keepAliveSeconds).toBe(30)
})

test('waits double up to the longest, and begin anew after a link of ten seconds', async () => {
  const { attempts, last } = start({ protocolVersion: 5 })
  for (let turn = 0; turn < 5; turn++) {
    last().end(pulled)
    await seconds(8)
  }
  expect(attempts).toHaveLength(6)
  last().live()
  await seconds(10)
  last().end(pulled)
  const before = attempts.length
  await seconds(1)
  expect(attempts).toHaveLength(before + 1)
})

test.each([
  [0, [0.5, 1, 2, 4, 4]],
  [1 - Number.EPSILON, [1, 2, 4, 8, 8]],
])('each wait is drawn from half to the whole of it (%d)', async (drawn, waits) => {
  const { attempts, last } = start({ protocolVersion: 5, random: () => drawn })
  for (let turn = 0; turn < 5; turn++) {
    last().end(pulled)
    await seconds(8)
  }
  // Eight seconds pass in each turn: the wait is what lies before the next attempt in it.
  expect(attempts.slice(1).map(({ at }, turn) => Math.round((at / 1000 - turn * 8) * 2) / 2)).toEqual(waits)
})

describe('a broker of three nodes', () => {
  const NODES = 'mqtt://a.example mqtt://b.example mqtt://c.example'
  const dialled = (attempts: readonly Attempt[]) => attempts.map(({ url }) => url.slice(7, 8)).join('')

  test('where a node does not answer the next is dialled at once, and the one that did is kept', async () => {
    const { attempts, last, said } = start({ url: NODES, protocolVersion: 4 })
    last().end(pulled)
    last().end(pulled)
    last().live()
    expect([dialled(attempts), said()]).toEqual(['abc', ['connecting', 'live']])
    await seconds(20)
    last().end(pulled)
    expect(said().at(-1)).toBe('down: a cable was pulled')
    await seconds(1)
    last().live()
    expect(dialled(attempts)).toBe('abcc')
    await seconds(20)
    last().end(pulled)
    await seconds(1)
    last().end(pulled)
    expect(dialled(attempts)).toBe('abccca')
  })

  test('that nothing listens is said where every node in a row tells so', async () => {
    const { last, states } = start({ url: NODES, protocolVersion: 4 })
    const nobody = { error: new Error('refused'), nobodyListens: true } as const
    const said = () => states.at(-1)
    for (const how of [nobody, pulled, nobody]) last().end(how)
    expect(said()).toEqual({ state: 'down', since: 0, why: 'refused' })
    await seconds(1)
    for (let node = 0; node < 3; node++) last().end(nobody)
    expect(said()).toEqual({ state: 'down', since: 0, why: 'refused', nobodyListens: true })
    await seconds(2)
    last().live()
    last().end({})
    expect(said()).not.toHaveProperty('nobodyListens')
  })

  test('between rounds over all nodes it waits as for a single one', async () => {
    const { attempts, last, said } = start({ url: NODES, protocolVersion: 4 })
    for (let node = 0; node < 3; node++) last().end(pulled)
    expect([dialled(attempts), said()]).toEqual(['abc', ['connecting', 'down: a cable was pulled']])
    await seconds(0.4)
    expect(attempts).toHaveLength(3)
    await seconds(0.7)
    expect(dialled(attempts)).toBe('abca')
    for (let node = 0; node < 3; node++) last().end(pulled)
    await seconds(1.9)
    expect(dialled(attempts)).toBe('abcabc')
    await seconds(0.2)
    expect(dialled(attempts)).toBe('abcabca')
  })

  test.each([
    ['an account, which is the same everywhere', 5, 'a'],
    ['because it is not ready', 3, 'ab'],
  ])('a node that refuses %s (return code %i)', async (_, refusedBy, expected) => {
    const { attempts, last } = start({ url: NODES, protocolVersion: 4 })
    last().end({ refusedBy })
    expect(dialled(attempts)).toBe(expected)
  })

  test('a node that ends each link soon after it was made is left', async () => {
    const { attempts, last } = start({ url: NODES, protocolVersion: 4 })
    for (let turn = 0; turn < 3; turn++) {
      last().live()
      last().end()
      await seconds(8)
    }
    expect(dialled(attempts)).toBe('aabc')
  })

  test('an older version of MQTT is tried at the same node', async () => {
    const { attempts, last } = start({ url: NODES })
    last().end({ refusedBy: 1 })
    expect([dialled(attempts), versions(attempts)]).toEqual(['aa', [5, 4]])
  })

  test('one address that is none is said before anything is dialled', () => {
    const { attempts, said } = start({ url: 'mqtt://a.example http://b.example' })
    expect(attempts).toEqual([])
    expect(said().at(-1)).toContain('not with http:')
  })
})

test('a refusal waits the longest at once', async () => {
  const { attempts, last } = start({ protocolVersion: 5 })
  last().end({ refusedBy: 134 })
  await seconds(7.9)
  expect(attempts).toHaveLength(1)
  await seconds(0.2)
  expect(attempts).toHaveLength(2)
})

test('a broker that refuses 5, or closes on it without a word, is asked with 3.1.1 at once', () => {
  for (const how of [{ refusedBy: 1 }, { refusedBy: 132 }, {}]) {
    const { attempts, last, said } = start()
    last().end(how)
    expect(versions(attempts)).toEqual([5, 4])
    expect(said()).toEqual(['connecting'])
  }
})

test('3.1.1 stays where it was taken, also while the broker is away', async () => {
  const { attempts, last } = start()
  last().end({ refusedBy: 132 })
  last().live()
  last().end(pulled)
  await seconds(8)
  last().end({ error: new Error('ECONNREFUSED') })
  await seconds(8)
  expect(versions(attempts)).toEqual([5, 4, 4, 4])
})

test('where 3.1.1 was never taken, the next attempt is with 5 again', async () => {
  const { attempts, last } = start()
  last().end({})
  last().end(pulled)
  await seconds(8)
  expect(versions(attempts)).toEqual([5, 4, 5])
})

test('a broker that has learned 5 meanwhile and refuses 3.1.1 is asked with 5', async () => {
  const { attempts, last } = start()
  last().end({ refusedBy: 1 })
  last().live()
  last().end(pulled)
  await seconds(8)
  last().end({ refusedBy: 1 })
  await seconds(8)
  expect(versions(attempts)).toEqual([5, 4, 4, 5])
})

test('a state is said once, with the time at which it began, and again when its reason changes', async () => {
  const { last, states, said } = start({ protocolVersion: 5 })
  last().end(pulled)
  await seconds(8)
  last().end(pulled)
  await seconds(8)
  last().end({ error: new Error('no route') })
  expect(said()).toEqual(['connecting', 'down: a cable was pulled', 'down: no route'])
  expect(states.map(({ since }) => since)).toEqual([0, 0, 0])
})

test('a link that ends soon without a word twice in a row is told as two clients with one id', async () => {
  const { last, said } = start()
  for (let turn = 0; turn < 2; turn++) {
    last().live()
    last().end()
    await seconds(8)
  }
  expect(said().at(-1)).toMatch(/^down: the broker closes the link soon .* the same client id "wall1"$/)
})

test('filters are asked for when the link is live; a new set asks for what it adds and gives up what it lacks', () => {
  const { feed, last } = start()
  feed.listen(['a', 'b'])
  expect(last().asked).toEqual([])
  last().live()
  feed.listen(['b', 'c'])
  expect(last().asked).toEqual(['+ a,b', '- a', '+ c'])
})

test('filters that could not even be asked for are said while the link is up, and not when it went down', async () => {
  const { feed, last, answers, said } = start()
  feed.listen(['a'])
  answers(() => Promise.reject(new Error('too long')))
  last().live()
  await seconds(0)
  expect(said()).toEqual(['connecting', 'live', 'refused: the broker could not be asked for a: too long'])
  const other = start()
  other.feed.listen(['a'])
  other.answers(() => Promise.reject(new Error('the link went down')))
  other.last().live()
  other.last().end(pulled)
  await seconds(0)
  expect(other.said()).toEqual(['connecting', 'live', 'down: a cable was pulled'])
})

test('a word that could not be kept breaks a kept session off and stays unacknowledged', async () => {
  const { last, errors } = start({ clean: false, heard: () => Promise.reject(new Error('the disk is full')) })
  last().live()
  await expect(last().events.heard(word)).rejects.toThrow('the disk is full')
  expect(last().dropped).toEqual([new Error('a word could not be kept: the disk is full')])
  expect(errors).toEqual([new Error('the disk is full')])
})

test('in a clean session it is acknowledged, for nobody would send it again', async () => {
  const { last, errors } = start({ heard: () => Promise.reject(new Error('the disk is full')) })
  last().live()
  await expect(last().events.heard(word)).resolves.toBeUndefined()
  expect(last().dropped).toEqual([])
  expect(errors).toHaveLength(1)
})

test('after close nothing is dialled and nothing is said', async () => {
  const { feed, last, attempts, states } = start()
  last().end(pulled)
  await feed.close()
  await seconds(60)
  expect([attempts.length, states.length]).toEqual([1, 2])
})
