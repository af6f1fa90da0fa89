import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { policyOf } from '../../src/house/policy.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { read } from '../../src/ledger/read.ts'
import { mqttFeed } from '../../src/link/mqtt-feed.ts'
import { connectNode } from '../../src/link/node/package-connection.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { MISHAPS, type Mishap, type Reach } from './mishaps.ts'

export const COUNTED = ['C1', 'C2', 'C3', 'C4']
export const PLAIN = ['P1', 'P2']

export const house = (url: string, without?: string): string => `
house: Torture
timezone: Europe/Lisbon
broker: { mqtt: [${url
  .split(' ')
  .map(node => `'${node}'`)
  .join(', ')}] }
tally: torture/tally
senders:
  counted:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    json: { word: /word, boots: /boots }
  plain: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
${[...COUNTED, ...PLAIN]
  .filter(mark => mark !== without)
  .map(mark => `  - { mark: ${mark}, name: ${mark}, sender: ${COUNTED.includes(mark) ? 'counted' : 'plain'} }`)
  .join('\n')}
`

/** A contact that publishes until it is told that its word came, as a module that tries again does. */
export class Publisher {
  readonly #feed
  readonly #isCounted: boolean
  #isLive = false
  #stopped = false
  #isHeld = false
  #isTrying = false
  #boots = 0
  /** Words whose publisher was told that they came, and tries of which it never heard. */
  readonly acknowledged: number[] = []
  readonly triedAgain = new Set<number>()
  attempts = 0
  done: Promise<void> = Promise.resolve()

  constructor(
    url: string,
    readonly mark: string,
    private readonly random: () => number,
  ) {
    this.#isCounted = COUNTED.includes(mark)
    this.#feed = mqttFeed({ url, connect: connectNode(), retry: { firstSeconds: 0.05, mostSeconds: 0.2 } })
  }

  start(): void {
    this.#feed.open({
      heard: () => {},
      link: state => {
        this.#isLive = state.state === 'live'
      },
    })
    this.done = this.#run()
  }

  async #run(): Promise<void> {
    while (!this.#stopped) {
      const boots = ++this.#boots
      const text = this.#isCounted ? JSON.stringify({ word: 'opened', boots }) : 'opened'
      while (this.#isHeld) await pause(10)
      this.#isTrying = true
      while (!(await this.#try(text))) this.triedAgain.add(boots)
      this.acknowledged.push(boots)
      this.#isTrying = false
      await pause(40 + this.random() * 200)
    }
    await this.#feed.close()
  }

  async #try(text: string): Promise<boolean> {
    while (!this.#isLive) await pause(10)
    this.attempts++
    try {
      await this.#feed.publish(`torture/${this.mark.toLowerCase()}`, text, { qos: 1 })
      return true
    } catch {
      await pause(20)
      return false
    }
  }

  /** Publishes nothing more until `go`; resolves when the last word has been acknowledged. */
  async hold(): Promise<void> {
    this.#isHeld = true
    await until('the last word', () => !this.#isTrying, 120)
  }

  go(): void {
    this.#isHeld = false
  }

  stop(): Promise<void> {
    this.#stopped = true
    this.go()
    return this.done
  }
}

export interface Outcome {
  readonly seconds: number
  readonly acknowledged: number
  readonly entries: number
  readonly queued: number
  readonly triedAgain: number
  /** Entries that say that they may be a redelivery. */
  readonly maybeAgain: number
  /** Starts at which the keeper said that somebody else had its session. */
  readonly taken: number
  /** How often each mishap came. */
  readonly mishaps: Readonly<Partial<Record<Mishap, number>>>
}

/**
 * Contacts publish while the keeper is killed at random moments and the broker is stopped and started. Afterwards every
 * word that was acknowledged to its contact stands once, and again only where the entry says that it may be a redelivery;
 * without a boot count, at least once.
 */
export async function killAndRestart({
  kills,
  restarts,
  mishaps = [],
  seed,
}: {
  kills: number
  restarts: number
  /** Come in turn, one before each kill but those with a restart. */
  mishaps?: readonly Mishap[]
  seed: number
}): Promise<Outcome> {
  const started = performance.now()
  const random = seeded(seed)
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-torture-'))
  const command = await builtCommand()
  const broker = await Mosquitto.start({ persistence: 'at-once', lines: ['max_queued_messages 100000'] })
  const path = join(folder, 'torture.yaml')
  writeFileSync(path, house(broker.mqttUrl))
  const keeper = new KeeperProcess(command.path, path, join(folder, 'data'))
  const publishers = [...COUNTED, ...PLAIN].map(mark => new Publisher(broker.mqttUrl, mark, random))
  try {
    keeper.start()
    // The broker must know the session before it can keep anything for it.
    await keeper.live()
    for (const publisher of publishers) publisher.start()
    const came: Partial<Record<Mishap, number>> = {}
    let taken = 0
    const data = join(folder, 'data')
    const reach: Reach = {
      ...{ broker, keeper, random, olderStore: undefined },
      register: { path, text: without => house(broker.mqttUrl, without) },
      allKept: () => allKept(publishers, data),
      async held(work) {
        await Promise.all(publishers.map(each => each.hold()))
        await work()
        for (const each of publishers) each.go()
      },
    }
    const restartAfter = new Set(Array.from({ length: restarts }, (_, n) => Math.floor(((n + 0.5) * kills) / restarts)))
    for (let n = 0; n < kills; n++) {
      // Mostly while it listens, sometimes while it starts.
      if (random() < 0.85) await keeper.live()
      await pause(random() * 500)
      if (restartAfter.has(n)) {
        await broker.stop()
        await pause(random() * 400)
        await broker.start()
        await pause(random() * 600)
      } else if (mishaps.length > 0) {
        const mishap = mishaps[n % mishaps.length]!
        if (mishap === 'fullDisk') await keeper.live()
        await MISHAPS[mishap](reach)
        came[mishap] = (came[mishap] ?? 0) + 1
        await pause(random() * 300)
      }
      keeper.mustRun()
      if (keeper.log.includes('another client has had the session')) taken++
      await keeper.kill()
      keeper.start()
    }
    await Promise.all(publishers.map(publisher => publisher.stop()))
    return { ...(await judge(publishers, data, house(broker.mqttUrl), started)), taken, mishaps: came }
  } finally {
    for (const publisher of publishers) void publisher.stop()
    await keeper.kill()
    await broker.close()
    command.remove()
    rmSync(folder, { recursive: true, force: true })
  }
}

function openedIn(data: string): Entry[] {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return [...store.entries()].filter(({ what }) => what === 'opened')
  } finally {
    void store.close()
  }
}

/**
 * Every acknowledged word of the counted contacts stands in the store, and nothing more comes.
 * @param quietSeconds - longer than the broker takes to send again
 */
async function allKept(publishers: readonly Publisher[], data: string, quietSeconds = 1): Promise<void> {
  let count = -1
  let changedAt = 0
  let missing: string[] = []
  await until(
    'all words in the store',
    async () => {
      const now = openedIn(data)
      const heard = new Set(now.map(({ mark, boots }) => `${mark} ${boots}`))
      const counted = publishers.filter(({ mark }) => COUNTED.includes(mark))
      const words = counted.flatMap(({ mark, acknowledged }) => acknowledged.map(boots => `${mark} ${boots}`))
      missing = words.filter(word => !heard.has(word))
      if (now.length !== count) changedAt = performance.now()
      count = now.length
      await pause(1_000)
      return missing.length === 0 && performance.now() - changedAt >= quietSeconds * 1_000
    },
    300,
  ).catch(error => {
    throw new Error(`${error.message}; missing are ${missing.join(', ') || 'none'}`)
  })
}

export async function judge(
  publishers: readonly Publisher[],
  data: string,
  text: string,
  started: number,
  quietSeconds?: number,
): Promise<Omit<Outcome, 'taken' | 'mishaps'>> {
  const { register } = parseRegister(text)
  const policy = policyOf(register!)
  const total = publishers.reduce((sum, { acknowledged }) => sum + acknowledged.length, 0)
  await allKept(publishers, data, quietSeconds)
  const entries = openedIn(data)
  for (const { mark, acknowledged, triedAgain, attempts } of publishers) {
    const own = entries.filter(entry => entry.mark === mark)
    expect(acknowledged.length, `${mark} was told of too few words`).toBeGreaterThan(10)
    if (COUNTED.includes(mark)) {
      const times = new Map<number, number>()
      for (const { boots, maybeAgain } of own) if (!maybeAgain) times.set(boots!, (times.get(boots!) ?? 0) + 1)
      for (const { boots, maybeAgain } of own) if (maybeAgain && !times.has(boots!)) times.set(boots!, 1)
      const missing = acknowledged.filter(boots => !times.has(boots))
      const twice = acknowledged.filter(boots => times.get(boots)! > 1 && !triedAgain.has(boots))
      expect({ mark, missing, twice }).toEqual({ mark, missing: [], twice: [] })
    } else {
      expect(own.length, `${mark} at least once`).toBeGreaterThanOrEqual(acknowledged.length)
      const certain = own.filter(({ maybeAgain }) => !maybeAgain)
      expect(certain.length, `${mark} no more than was tried`).toBeLessThanOrEqual(attempts)
    }
  }
  const store = TallyStore.open(data, 'read', ledgerRules(policy))
  const readings = read(store.replay('').kept, Date.now(), policy)
  void store.close()
  for (const { mark, acknowledged } of publishers) {
    const reading = readings.find(each => each.mark === mark)!
    // Where boots are counted the ledger takes a word that was sent twice for one.
    if (COUNTED.includes(mark)) expect([mark, reading.sends]).toEqual([mark, acknowledged.at(-1)])
  }
  return {
    seconds: Math.round((performance.now() - started) / 1000),
    acknowledged: total,
    entries: entries.length,
    queued: entries.filter(({ how }) => how === 'queued').length,
    maybeAgain: entries.filter(({ maybeAgain }) => maybeAgain).length,
    triedAgain: publishers.reduce((sum, { triedAgain }) => sum + triedAgain.size, 0),
  }
}
