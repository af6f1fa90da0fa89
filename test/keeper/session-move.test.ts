import { mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { policyOf } from '../../src/house/policy.ts'
import { filtersOf } from '../../src/keeper/publish/notes.ts'
import { olderClientId } from '../../src/keeper/session/client-id.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { tallyTopics } from '../../src/protocol/topics.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { Tap } from '../support/tap.ts'
import { pause, until } from '../support/until.ts'
import { HOUSE, registerOf } from './bench-house.ts'
import { tempFolder } from './folder.ts'

const TALLY = 'ropewalk/tally'
/** The steps before ask whether another keeper is at work. */
const FIRST_STEP = 3

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

function inStore(data: string) {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return { olderSession: store.fact('olderSession') ?? 'waits', entries: [...store.entries()] }
  } finally {
    void store.close()
  }
}

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a hand-over of the session'), () => {
  it('that is killed at each of its steps loses no acknowledged word and counts none twice unmarked', async () => {
    const command = await builtCommand()
    const broker = await Mosquitto.start({ lines: ['max_queued_messages 100000'] })
    let step = 0
    let mortal = Number.POSITIVE_INFINITY
    const tap: Tap = await Tap.before(broker.mqttPort, {
      version: 5,
      async onPacket(packet) {
        const isStep =
          packet.cmd === 'publish'
            ? packet.topic.includes('/echo/')
            : /^(connect|subscribe|disconnect)$/.test(packet.cmd)
        if (!isStep || ++step !== mortal) return
        // Every other one still reaches the broker.
        if (step % 2 === 0) void keeper.kill()
        else await keeper.kill()
      },
    })
    const folder = tempFolder()
    const data = join(folder, 'data')
    const register = join(folder, 'house.yaml')
    writeFileSync(register, HOUSE.replace('broker.lan:1883', `127.0.0.1:${tap.port}`))
    mkdirSync(data)
    const older = TallyStore.open(data, 'write', ledgerRules(policyOf(registerOf())))
    older.commitBatch({ entries: [], facts: { lastLive: '2026-06-01T08:10:00.000Z' } })
    await older.close()
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
    const before = await mqtt.connectAsync(broker.mqttUrl, { clientId: olderClientId(TALLY), clean: false })
    await before.subscribeAsync(filtersOf(registerOf(), tallyTopics(TALLY), false), { qos: 1 })
    await before.endAsync()

    let boots = 0
    let isOver = false
    const speaking = (async () => {
      while (!isOver) {
        await contact.publishAsync('ropewalk/w03', JSON.stringify({ word: 'opened', boots: boots + 1 }), { qos: 1 })
        boots++
        await pause(10)
      }
    })()
    const killedIn: string[] = []
    for (mortal = FIRST_STEP; ; mortal++) {
      step = 0
      keeper.start()
      await until('a kill or the end', () => keeper.isDead || (isMoved() && keeper.log.includes('keeping')), 120)
      if (!keeper.isDead) break
      killedIn.push(inStore(data).olderSession)
    }
    function isMoved() {
      return step < mortal && inStore(data).olderSession === ''
    }
    isOver = true
    await speaking
    const last = boots
    await until('the last word', () => inStore(data).entries.some(each => each.boots === last))
    expect(killedIn.filter(each => each === 'waits').length).toBeGreaterThan(8)
    expect(killedIn).toContain('moved')
    const words = inStore(data).entries.filter(({ mark, what }) => mark === 'W03' && what === 'opened')
    const heard = new Set(words.map(each => each.boots))
    const missing = Array.from({ length: last }, (_, n) => n + 1).filter(n => !heard.has(n))
    const certain = words.filter(({ maybeAgain }) => !maybeAgain).map(each => each.boots)
    const twice = certain.filter((each, n) => certain.indexOf(each) !== n)
    expect({ missing, twice }).toEqual({ missing: [], twice: [] })
  })
})
