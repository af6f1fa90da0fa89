import { expect, test } from 'vitest'
import { policyOf } from '../../src/house/policy.ts'
import { HomieDevices } from '../../src/keeper/publish/homie.ts'
import { registerNote } from '../../src/keeper/publish/notes.ts'
import { type Feed, NotTaken } from '../../src/protocol/feed.ts'
import { homieRoot } from '../../src/protocol/homie.ts'
import { tallyTopics } from '../../src/protocol/topics.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { until } from '../support/until.ts'
import { HOUSE } from './bench-house.ts'

/** Devices of the house on a broker in memory, which may refuse. */
function devicesOn(publish: (topic: string) => Promise<void>) {
  const register = parseRegister(HOUSE).register!
  const told: string[] = []
  const published: string[] = []
  let listener: Parameters<Feed['open']>[0] | undefined
  let isClosed = false
  const feed: Feed = {
    listen: () => {},
    open: given => {
      listener = given
    },
    publish: async topic => {
      await publish(topic)
      published.push(topic)
    },
    close: async () => {
      isClosed = true
    },
  }
  const tell = (line: string): void => void told.push(line)
  const devices = new HomieDevices({ feed, tally: register.tally, domain: 'homie', now: () => Date.now(), tell })
  devices.start()
  listener!.link({ state: 'live', since: 0, sessionPresent: false })
  const hear = (topic: string, said: unknown): void => {
    const payload = new TextEncoder().encode(JSON.stringify(said))
    void listener!.heard({ topic, payload, qos: 1, retain: true, dup: false })
  }
  const hearHouse = (): void => {
    const topics = tallyTopics(register.tally)
    const now = new Date().toISOString()
    hear(topics.keeper, { v: 1, state: 'live', beat: now, since: now })
    hear(topics.register, registerNote(register, policyOf(register)))
  }
  const rootTold = () =>
    until(
      'the root, which is told last',
      () => published.filter(topic => topic.endsWith('/$state')).length > register.openings.length,
    )
  return { register, devices, told, published, hear, hearHouse, rootTold, isClosed: () => isClosed }
}

test('a broker that goes while the devices take their leave does not keep the keeper from its end', async () => {
  let isGone = false
  const house = devicesOn(async () => {
    if (isGone) throw new Error('the link went down')
  })
  house.hearHouse()
  await house.rootTold()
  isGone = true
  await house.devices.stop()
  expect(house.isClosed()).toBe(true)
  expect(house.told.join('\n')).toMatch(/take their leave: the link went down/)
})

test('a device of an earlier opening that the account may not take away is told, and keeps none of the others back', async () => {
  const house = devicesOn(async topic => {
    if (topic.startsWith('homie/5/w99/')) throw new NotTaken('it does not let this account publish there', true)
  })
  const { tally, openings } = house.register
  const root = homieRoot(
    tally,
    openings.map(({ mark }) => mark),
  )
  house.hear('homie/5/w99/$description', { homie: '5.0', version: 1, name: 'W99', root })
  house.hearHouse()
  await house.rootTold()
  await house.devices.stop()
  expect(house.told).toEqual([expect.stringMatching(/w99 is no opening any more, .* below homie\/5\/w99 with another/)])
})
