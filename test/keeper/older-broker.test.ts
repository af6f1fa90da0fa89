import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { HOUSE } from './bench-house.ts'
import { tempFolder } from './folder.ts'

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

function entriesIn(data: string): Entry[] {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return [...store.entries()].filter(({ what, how }) => what === 'opened' && how !== 'retained')
  } finally {
    void store.close()
  }
}

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a broker that came back from an older store'), () => {
  it('hands packet ids out again: no word is lost that went to a keeper which died at once', async () => {
    const command = await builtCommand()
    const broker = await Mosquitto.start({ persistence: 'on-stop' })
    const folder = tempFolder()
    const register = join(folder, 'house.yaml')
    const data = join(folder, 'data')
    writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
    const keeper = new KeeperProcess(command.path, register, data)
    undo.push(
      () => command.remove(),
      () => broker.close(),
      () => rmSync(folder, { recursive: true, force: true }),
      () => keeper.kill(),
    )
    const contact = await mqtt.connectAsync(broker.mqttUrl, { reconnectPeriod: 50 })
    undo.push(() => contact.endAsync(true))
    const open = async (times: number) => {
      for (let n = 0; n < times; n++) await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    }
    keeper.start()
    await keeper.live()
    await broker.stop()
    const older = await broker.store()
    await broker.start()
    await until('the keeper to be back', () => keeper.log.includes('the link is back'))
    await open(60)
    await until('60 words', () => entriesIn(data).length === 60)
    await keeper.kill()
    await broker.stop()
    await broker.goBackTo(older)
    await broker.start()
    keeper.start()
    await keeper.live()
    keeper.freeze()
    await open(60)
    await keeper.kill()
    keeper.start()
    await keeper.live()
    await until('all words', () => entriesIn(data).length >= 120)
    const entries = entriesIn(data)
    expect(entries).toHaveLength(120)
    const doubtful = entries.filter(({ maybeAgain }) => maybeAgain)
    expect(doubtful.length, 'some had a used packet id').toBeGreaterThan(0)
    expect(entries.indexOf(doubtful[0]!), 'those of before are certain').toBeGreaterThanOrEqual(60)
  })
})
