import { join } from 'node:path'
import { policyOf } from '../../src/house/policy.ts'
import type { LeftByMark } from '../../src/house/state.ts'
import type { Forecast } from '../../src/keeper/forecast/forecast.ts'
import { Keeper } from '../../src/keeper/keeper.ts'
import type { KeeperOptions } from '../../src/keeper/options.ts'
import { ledgerRules, openLedger } from '../../src/keeper/store/rules.ts'
import { openSqlite, type Sql } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'
import type { Register } from '../../src/register/types.ts'
import { FakeBroker, type FakeFeed, settle, TestClock } from './fake-broker.ts'
import { tempFolder } from './folder.ts'

export const HOUSE = `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 4, qos: 1 }
  counted:
    reports: openings
    cell: CR2450
    words: { opened: opened, rest: asleep }
    keepAliveSeconds: 4
    json: { word: /word, boots: /boots }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room', sender: coin }
  - { mark: W02, name: 'Loft', sender: coin }
  - { mark: W03, name: 'Stair', sender: counted }
  - { mark: D01, name: 'Yard door', kind: door, sender: yard }
`

export function registerOf(text = HOUSE): Register {
  const { register, problems } = parseRegister(text)
  if (!register) throw new Error(JSON.stringify(problems))
  return register
}

/** Forecasts without a thread. */
export const atOnce =
  (leftOf: (register: Register, ledger: Ledger, now: number) => LeftByMark): Forecast =>
  async (_, { give }) => {
    const { register, ledger, now } = give()
    return leftOf(register, ledger, now)
  }

/** A house with a keeper that can be killed, and a broker that can be stopped. */
export class BenchHouse {
  readonly broker = new FakeBroker()
  readonly clock: TestClock
  readonly folder = tempFolder()
  readonly told: string[] = []
  register = registerOf()
  keeper!: Keeper
  feed!: FakeFeed
  store!: TallyStore<Ledger>
  sql!: Sql
  #starts = 0

  constructor(start = '2026-06-01T08:00:00.000Z') {
    this.clock = new TestClock(start)
  }

  /** @param wrap - stands between the keeper and its store */
  async start(
    more: Partial<KeeperOptions> = {},
    wrap: (store: TallyStore<Ledger>) => TallyStore<Ledger> = store => store,
  ): Promise<void> {
    const path = join(this.folder, 'tally.sqlite')
    this.sql = openSqlite(path, 'write')
    const policy = policyOf(this.register)
    this.store = new TallyStore(this.sql, ledgerRules(policy), path)
    const startedIso = new Date(this.clock.now()).toISOString()
    this.store.begin(startedIso)
    const will = { v: 1, state: 'gone', beat: startedIso, since: startedIso }
    this.feed = this.broker.feed('keeper', { will: { topic: 'ropewalk/tally/keeper', payload: JSON.stringify(will) } })
    this.keeper = new Keeper({
      register: this.register,
      store: wrap(this.store),
      ledger: openLedger(this.store, policy, startedIso),
      feed: this.feed,
      clock: this.clock,
      keeper: `k${++this.#starts}`,
      startedIso,
      tell: line => this.told.push(line),
      forecast: atOnce(() => ({})),
      ...more,
    })
    this.keeper.start()
    await this.clock.pass(0.01)
  }

  /** SIGKILL: nothing more is written or acknowledged. */
  kill(): void {
    this.feed.kill()
    this.clock.dropTimers()
    if (this.sql.inTransaction) this.sql.exec('rollback')
    this.sql.close()
  }

  async say(
    topic: string,
    payload: string | Uint8Array,
    options: { qos?: 0 | 1; retain?: boolean } = {},
  ): Promise<void> {
    this.broker.publish(topic, payload, options)
    await settle()
  }

  /** What stands in the store, without the keeper's own notes. */
  entries(mark?: string): Entry[] {
    return [...this.store.entries(mark === undefined ? {} : { marks: [mark] })].filter(
      entry => entry.by !== 'sashtally',
    )
  }

  reading(mark: string) {
    return this.broker.json(`ropewalk/tally/opening/${mark}`)
  }

  state() {
    return this.broker.json('ropewalk/tally/keeper')
  }

  /** Says something of an opening as a wall would; answers what the keeper answered. */
  async person(
    mark: string,
    say: Record<string, unknown> | string,
  ): Promise<{ ok: boolean; problem?: string } | undefined> {
    const id = typeof say === 'string' ? '' : String(say.id)
    const from = this.broker.log.length
    await this.say(`ropewalk/tally/say/${mark}`, typeof say === 'string' ? say : JSON.stringify({ v: 1, ...say }))
    const answer = this.broker.log.slice(from).find(({ topic }) => topic === `ropewalk/tally/heard/${id}`)
    return answer && JSON.parse(answer.text)
  }
}

/** W01 was opened, rested and seen shut. */
export async function seenShut(): Promise<BenchHouse> {
  const house = new BenchHouse()
  await house.start()
  await house.say('ropewalk/w01', 'opened')
  await house.clock.pass(6)
  await house.say('ropewalk/w01', 'asleep', { retain: true })
  await house.clock.pass(60)
  await house.person('W01', { id: 's1', what: 'seen-closed' })
  return house
}
