import { expect } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { policyOf } from '../../src/house/policy.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { read } from '../../src/ledger/read.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { withoutMoment } from '../house/shells.ts'
import { BenchHouse } from './bench-house.ts'
import { settle } from './fake-broker.ts'

const TOPICS = [
  'ropewalk/w01',
  'ropewalk/w02',
  'ropewalk/w03',
  'ropewalk/d01',
  'ropewalk/tally/say/W01',
  'ropewalk/tally/say/W99',
  'ropewalk/tally/say/__proto__',
  'ropewalk/tally/say/constructor',
  'ropewalk/tally/keeper',
  'ropewalk/tally/keeper/echo/x',
  'ropewalk/tally/register',
  'ropewalk/tally/opening/W01',
  'ropewalk/tally/opening/W77',
  'ropewalk/tally/plain/../../x',
  'ropewalk/tally/heard/a',
  'ropewalk/nobody',
]

/**
 * Sends `count` random messages among which a counted contact's true words stand; afterwards the keeper must be live,
 * every true word counted once, and the store must add up to the very same ledger.
 */
export async function sendNonsense(count: number, seed: number): Promise<void> {
  const random = seeded(seed)
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)]!
  const bytes = (length: number) => Uint8Array.from({ length }, () => Math.floor(random() * 256))
  const text = (): string =>
    String.fromCharCode(...Array.from({ length: Math.floor(random() * 30) }, () => Math.floor(random() * 0x3000)))
  const value = (depth = 0): unknown =>
    pick<() => unknown>([
      () => random() * 1e6 - 1e3,
      () => text(),
      () => null,
      () => random() < 0.5,
      () => (depth > 2 ? 1 : Array.from({ length: 3 }, () => value(depth + 1))),
      () => (depth > 2 ? 'x' : { [text()]: value(depth + 1), __proto__: value(depth + 1) }),
    ])()
  const say = (): string =>
    JSON.stringify({
      v: pick([1, 1, 1, 2, '1']),
      id: pick(['a', 'b', text(), 7, `id-${Math.floor(random() * 1e9)}`]),
      what: pick([...WHATS, 'constructor', text()]),
      ...(random() < 0.3
        ? { at: pick(['2026-05-01T00:00:00Z', '2999-01-01T00:00:00Z', text(), '0000-00-00T00:00:00Z']) }
        : {}),
      ...(random() < 0.3 ? { undoes: pick(['a', 'b', text()]) } : {}),
      ...(random() < 0.3 ? { cell: value() } : {}),
      ...(random() < 0.3 ? { by: text(), note: text(), revision: pick(['0a1b2c3d', text()]) } : {}),
    })
  const payload = (): string | Uint8Array =>
    pick<() => string | Uint8Array>([
      () => bytes(Math.floor(random() * 300)),
      text,
      say,
      say,
      () => JSON.stringify(value()),
      () => '',
      () => 'x'.repeat(70_000 * (random() < 0.02 ? 1 : 0)),
      () => '{"word":"opened","boots":1e308}',
      () => '{"v":1,"kind":"question","keeper":"zz"}',
      () => '{"v":1,"kind":"marker","keeper":"k1"}',
      () => '{"v":1,"state":"live","beat":"2026-06-01T08:00:00.000Z","since":"2026-06-01T08:00:09.000Z"}',
    ])()

  const house = new BenchHouse()
  await house.start()
  let boots = 0
  for (let n = 0; n < count; n++) {
    const topic = pick(TOPICS)
    if (topic === 'ropewalk/w03') house.broker.publish(topic, `{"word":"opened","boots":${++boots}}`)
    else house.broker.publish(topic, payload(), { qos: pick([0, 1]), retain: random() < 0.1 })
    if (n % 50 === 0) {
      await house.clock.pass(random() * 5)
      house.broker.log.length = 0
    }
  }
  await settle()
  await house.clock.pass(31)
  expect(house.state()?.state).toBe('live')
  expect(boots).toBeGreaterThan(count / 40)
  const words = house.entries('W03').filter(({ what }) => what === 'opened')
  expect(words.map(entry => entry.boots)).toEqual(Array.from({ length: boots }, (_, n) => n + 1))
  expect(house.reading('W03')).toMatchObject({ sends: boots })
  expect(house.told.filter(line => line.includes('could not be counted'))).toEqual([])
  const readings = withoutMoment(house.keeper.state().readings.values())
  const now = house.clock.now()
  await house.keeper.stop()
  const policy = policyOf(house.register)
  const again = TallyStore.open(house.folder, 'write', ledgerRules(policy))
  const steps = again.recount(ledgerRules(policy))
  let step = steps.next()
  while (!step.done) step = steps.next()
  expect(withoutMoment(read(step.value, now, policy))).toEqual(readings)
}
