import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { Tap } from '../support/tap.ts'
import { pause, until } from '../support/until.ts'
import { HOUSE } from './bench-house.ts'
import { tempFolder } from './folder.ts'

const WORDS = 1_200

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a broker that takes long for each packet'), () => {
  it('has never more than 100 acknowledgements to read before the keeper’s other packets', async () => {
    const command = await builtCommand()
    const broker = await Mosquitto.start({ lines: ['max_queued_messages 5000'] })
    let mostUnread = 0
    let milliseconds = 0
    /** Of each connection: what a closed one left unread is nobody's to read any more. */
    const read: number[] = []
    const tap: Tap = await Tap.before(broker.mqttPort, {
      version: 5,
      async onPacket({ cmd }, connection) {
        if (cmd !== 'puback') return
        const written = tap.connections[connection]!.packets.filter(({ cmd }) => cmd === 'puback').length
        mostUnread = Math.max(mostUnread, written - (read[connection] ?? 0))
        if (milliseconds > 0) await pause(milliseconds)
        read[connection] = (read[connection] ?? 0) + 1
      },
    })
    const folder = tempFolder()
    const data = join(folder, 'data')
    const register = join(folder, 'house.yaml')
    writeFileSync(register, HOUSE.replace('broker.lan:1883', `127.0.0.1:${tap.port}`))
    const keeper = new KeeperProcess(command.path, register, data)
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    undo.push(
      () => command.remove(),
      () => broker.close(),
      () => tap.close(),
      () => rmSync(folder, { recursive: true, force: true }),
      () => contact.endAsync(true),
      () => keeper.kill(),
    )
    keeper.start()
    await keeper.live()
    await keeper.kill()
    for (let n = 0; n < WORDS; n++) await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    milliseconds = 3
    keeper.start()
    await until('all acknowledgements', () => read.reduce((sum, each) => sum + each, 0) >= WORDS, 240)
    await keeper.live()
    expect(mostUnread).toBeGreaterThan(50)
    expect(mostUnread).toBeLessThanOrEqual(100)
    const kept = TallyStore.open(data, 'read', ledgerRules({}))
    undo.push(() => kept.close())
    expect([...kept.entries()].filter(({ what }) => what === 'opened')).toHaveLength(WORDS)
  })
})
