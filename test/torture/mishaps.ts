import { spawnSync } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import mqtt from 'mqtt'
import { olderClientId } from '../../src/keeper/session/client-id.ts'
import type { KeeperProcess } from '../support/keeper-process.ts'
import type { Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'

/** What a mishap may reach for. */
export interface Reach {
  readonly broker: Mosquitto
  readonly keeper: KeeperProcess
  readonly random: () => number
  /** Path and text of the register; `without` leaves the line of a mark out. */
  readonly register: { readonly path: string; text(without?: string): string }
  /** The contacts publish nothing while `work` is done. */
  held(work: () => Promise<void>): Promise<void>
  /** Resolves when the keeper has kept all that was acknowledged. */
  allKept(): Promise<void>
  /** What the broker kept on disk at an earlier time. */
  olderStore: Buffer | undefined
}

/** Comes back from an older store, once the keeper has kept all that the broker is about to forget. */
async function olderStore(reach: Reach): Promise<void> {
  const { broker, keeper, held, allKept } = reach
  await held(async () => {
    await keeper.live()
    await allKept()
    await broker.stop()
    const store = await broker.store()
    if (reach.olderStore) await broker.goBackTo(reach.olderStore)
    reach.olderStore = store
    await broker.start()
  })
}

/** Somebody who knows the tally's topic tries the client id that could once be computed from it. */
async function thief({ broker }: Reach): Promise<void> {
  const clientId = olderClientId('torture/tally')
  const client = await mqtt.connectAsync(broker.mqttUrl, { clientId, clean: false }, false)
  await client.subscribeAsync('torture/#', { qos: 1 })
  await pause(300)
  await client.endAsync()
}

/** A line of the register is taken out and put back, once all its words are kept; nothing is published meanwhile. */
async function edit({ broker, keeper, register, held, allKept }: Reach): Promise<void> {
  const onlooker = await mqtt.connectAsync(broker.mqttUrl)
  let openings: number | undefined
  onlooker.on('message', (_, payload) => {
    openings = JSON.parse(payload.toString()).openings.length
  })
  await onlooker.subscribeAsync('torture/tally/register', { qos: 1 })
  // On its one link the keeper subscribes before it publishes: what is said from then on is heard, or waits.
  const isTaken = (count: number) => until(`${count} openings`, () => openings === count || keeper.hasEnded, 120)
  await held(async () => {
    await keeper.live()
    await allKept()
    writeFileSync(register.path, register.text('C4'))
    await isTaken(5)
    writeFileSync(register.path, register.text())
    await isTaken(6)
  })
  await onlooker.endAsync()
}

/** No file of the keeper may grow for a while. */
async function fullDisk({ keeper, random }: Reach): Promise<void> {
  const limit = (bytes: string) => spawnSync('prlimit', ['--pid', String(keeper.processId), `--fsize=${bytes}:`]).status
  if (limit('1') !== 0) throw new Error('prlimit refused')
  await pause(300 + random() * 1_500)
  limit('unlimited')
}

export const MISHAPS = { olderStore, thief, edit, fullDisk } as const
export type Mishap = keyof typeof MISHAPS
