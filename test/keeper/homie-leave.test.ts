import { expect, test } from 'vitest'
import { policyOf } from '../../src/house/policy.ts'
import { HomieDevices } from '../../src/keeper/publish/homie.ts'
import { registerNote } from '../../src/keeper/publish/notes.ts'
import type { Feed } from '../../src/protocol/feed.ts'
import { tallyTopics } from '../../src/protocol/topics.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { until } from '../support/until.ts'
import { HOUSE } from './bench-house.ts'

test('a broker that goes while the devices take their leave does not keep the keeper from its end', async () => {
  const register = parseRegister(HOUSE).register!
  let isGone = false
  let isClosed = false
  const told: string[] = []
  const published: string[] = []
  let listener: Parameters<Feed['open']>[0] | undefined
  const feed: Feed = {
    listen: () => {},
    open: given => {
      listener = given
    },
    publish: async topic => {
      if (isGone) throw new Error('the link went down')
      published.push(topic)
    },
    close: async () => {
      isClosed = true
    },
  }
  const devices = new HomieDevices({
    feed,
    tally: register.tally,
    domain: 'homie',
    now: () => Date.now(),
    tell: line => told.push(line),
  })
  devices.start()
  listener!.link({ state: 'live', since: 0, sessionPresent: false })
  const hear = (topic: string, said: unknown): void => {
    const payload = new TextEncoder().encode(JSON.stringify(said))
    void listener!.heard({ topic, payload, qos: 1, retain: true, dup: false })
  }
  const topics = tallyTopics(register.tally)
  const now = new Date().toISOString()
  hear(topics.keeper, { v: 1, state: 'live', beat: now, since: now })
  hear(topics.register, registerNote(register, policyOf(register)))
  await until('the devices to be told of', () => published.some(topic => topic.endsWith('/$state')))
  await until(
    'the root, which is told last',
    () => published.filter(topic => topic.endsWith('/$state')).length > register.openings.length,
  )
  isGone = true
  await devices.stop()
  expect(isClosed).toBe(true)
  expect(told.join('\n')).toMatch(/take their leave: the link went down/)
})
