import { readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { builtCommand } from '../support/built.ts'
import { listenTo } from '../support/ear.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { HOUSE } from './bench-house.ts'
import { tempFolder } from './folder.ts'

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

function wordsIn(data: string): Entry[] {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return [...store.entries()].filter(({ by }) => by !== 'sashtally')
  } finally {
    void store.close()
  }
}

/** Its state in `/proc/PID/stat`, behind the name in brackets (proc(5)): T is stopped. */
const isStopped = (processId: number): boolean => /\) T /.test(readFileSync(`/proc/${processId}/stat`, 'utf8'))

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a keeper whose process is stopped for some seconds'), () => {
  it('gives what came meanwhile both ends of its time and accuses neither of two contacts', async () => {
    const command = await builtCommand()
    const broker = await Mosquitto.start()
    const folder = tempFolder()
    const [register, data] = [join(folder, 'house.yaml'), join(folder, 'data')]
    writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
    const keeper = new KeeperProcess(command.path, register, data)
    const ear = listenTo({ url: broker.mqttUrl }, ['ropewalk/tally/opening/+'])
    undo.push(
      () => command.remove(),
      () => broker.close(),
      () => rmSync(folder, { recursive: true, force: true }),
      () => ear.feed.close(),
      () => keeper.kill(),
    )
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    undo.push(() => contact.endAsync(true))
    keeper.start()
    await keeper.live()
    keeper.freeze()
    await until('it to stand still', () => isStopped(keeper.processId!))
    const from = Date.now()
    for (const word of ['opened', 'asleep'])
      for (const topic of ['ropewalk/w01', 'ropewalk/w02']) await contact.publishAsync(topic, word, { qos: 1 })
    const said = Date.now()
    await pause(4_000)
    keeper.thaw()
    await until('all words', () => wordsIn(data).length === 4)
    for (const { mark, what, how, at, until: latest } of wordsIn(data)) {
      expect([mark, what, how]).toEqual([mark, what, 'queued'])
      expect([mark, what, Date.parse(at) <= from, Date.parse(latest!) >= said]).toEqual([mark, what, true, true])
    }
    const doubts = await until('both readings', () => {
      const texts = ['W01', 'W02'].map(
        mark => ear.heard.findLast(({ topic }) => topic === `ropewalk/tally/opening/${mark}`)?.text ?? '{}',
      )
      const readings = texts.map(text => JSON.parse(text) as { openings?: number; doubts?: string[] })
      return readings.every(({ openings }) => openings === 1) && readings.flatMap(({ doubts = [] }) => doubts)
    })
    expect(doubts).not.toContain('twin')
    expect(doubts).not.toContain('faint')
  })
})
