import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { accessList } from '../../src/emit/broker/access.ts'
import { parseAlert } from '../../src/protocol/alert.ts'
import { HOUSE, registerOf } from '../keeper/bench-house.ts'
import { tempFolder } from '../keeper/folder.ts'
import { type Ear, listenTo } from '../support/ear.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { Receiver } from '../support/receiver.ts'
import { pause, until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

const PASSWORD = 'walrus'

/** A keeper, a broker with accounts, a hub that listens and an HTTP server, all real; windows stand open for a second. */
describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('alerts of a house'), () => {
  let broker: Mosquitto
  let receiver: Receiver
  let folder: string
  let hub: Ear
  let contact: Ear
  let running: { interrupt(): void; done: Promise<number> } | undefined

  beforeEach(async () => {
    folder = tempFolder()
    const users = ['keeper', 'onlooker', 'ropewalkw01', 'ropewalkw02']
    broker = await Mosquitto.start({
      accounts: Object.fromEntries(users.map(user => [user, PASSWORD])),
      access: accessList(registerOf()),
    })
    receiver = await new Receiver().start()
    writeFileSync(
      join(folder, 'house.yaml'),
      HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl).replace(
        'tally:',
        `alerts: { openLongMinutes: 0.02, to: '${receiver.url}' }\nbounceSeconds: 0\ntally:`,
      ),
    )
    writeFileSync(join(folder, 'password'), `${PASSWORD}\n`, { mode: 0o600 })
    const as = (username: string) => ({ url: broker.mqttUrl, username, password: PASSWORD })
    hub = listenTo(as('onlooker'), ['ropewalk/tally/alert'])
    contact = listenTo(as('ropewalkw01'))
    await Promise.all([hub.listening(), contact.live()])
  })
  afterEach(async () => {
    await end()
    await Promise.all([hub.feed.close(), contact.feed.close(), broker.close(), receiver.stop()])
  })

  async function start(): Promise<void> {
    const env = { SASHTALLY_USER: 'keeper', SASHTALLY_PASSWORD_FILE: join(folder, 'password') }
    const world = fakeWorld({ env })
    const done = cli(['keep', join(folder, 'house.yaml'), '--data', join(folder, 'data')], world)
    running = { interrupt: () => world.interrupt(), done }
    await until('the keeper', () => {
      if (world.said.stderr) throw new Error(world.said.stderr)
      return /keeping 4 openings/.test(world.said.stdout)
    })
  }
  async function end(): Promise<void> {
    running?.interrupt()
    await running?.done
    running = undefined
  }
  const notes = () => hub.heard.map(({ text, retain }) => ({ ...parseAlert(text), retain }))

  it('reach hub and receiver once, also over a start of the keeper and of the receiver', async () => {
    await start()
    await contact.feed.publish('ropewalk/w01', 'opened', { qos: 1 })
    await pause(1_500)
    // The next word is a look before the next beat, up to half a minute later.
    await contact.feed.publish('ropewalk/w01', 'what?', { qos: 1 })
    await until('the alert', () => notes().length > 0)
    expect(notes()).toMatchObject([{ what: 'open-long', marks: ['W01'], retain: false }])
    await until('the post', () => receiver.posted.length > 0)
    expect(receiver.posted[0]!.body.data).toEqual(JSON.parse(hub.heard[0]!.text))
    await end()
    await receiver.stop()
    await start()
    await contact.feed.publish('ropewalk/w01', 'what?', { qos: 1 })
    await receiver.start()
    await contact.feed.publish('ropewalk/w01', 'opened', { qos: 1 })
    await pause(1_500)
    await contact.feed.publish('ropewalk/w01', 'what?', { qos: 1 })
    await until('the second post', () => receiver.posted.length > 1)
    expect(notes().map(({ what, marks }) => `${what} ${marks}`)).toEqual(['open-long W01', 'open-long W01'])
    expect(new Set(receiver.posted.map(({ body }) => body.id)).size).toBe(2)
  })
})
