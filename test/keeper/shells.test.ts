import fc from 'fast-check'
import { expect, it } from 'vitest'
import { timesIn } from '../../src/keeper/live-facts.ts'
import {
  type Act,
  AFTER_SECONDS,
  BareShell,
  FOUND_SECONDS,
  REGISTERS,
  type Shell,
  someActs,
  threeSends,
  WELL_SECONDS,
  withoutMoment,
} from '../house/shells.ts'
import { atOnce, BenchHouse } from './bench-house.ts'

/** The keeper with its store on a real disk and a broker that keeps sessions. */
class KeeperShell implements Shell {
  readonly #house = new BenchHouse()

  async start(): Promise<this> {
    this.#house.register = REGISTERS[0]!
    await this.#start()
    return this
  }

  async play(act: Act): Promise<void> {
    const house = this.#house
    switch (act.kind) {
      case 'word':
        await house.say(act.topic, act.text, { retain: act.retain })
        break
      case 'say':
        await house.person(act.mark, act.say)
        break
      case 'pass':
        await house.clock.pass(act.seconds)
        break
      case 'deaf':
        house.broker.stop()
        house.broker.sessions.clear()
        await house.clock.pass(act.seconds)
        house.broker.start()
        break
      case 'cut':
        house.broker.stop()
        await house.clock.pass(act.seconds)
        house.broker.start()
        break
      case 'sleep':
        house.clock.sleep(act.seconds)
        await house.clock.pass(FOUND_SECONDS)
        break
      case 'clock':
        house.clock.set(act.bySeconds * 1000)
        await house.clock.pass(FOUND_SECONDS)
        break
      case 'restart':
        // What was acknowledged in vain comes again.
        house.feed.losesAcks = true
        house.kill()
        house.clock.set(act.bySeconds * 1000)
        await this.#start()
        break
      case 'refusing':
        house.sql.exec('pragma query_only = 1')
        await house.say(act.topic, act.text)
        house.sql.exec('pragma query_only = 0')
        await house.clock.pass(WELL_SECONDS)
        break
      case 'edit':
        house.register = REGISTERS[act.register]!
        house.keeper.adopt(house.register)
    }
    await house.clock.pass(AFTER_SECONDS)
  }

  readings() {
    return withoutMoment(this.#house.keeper.state().readings.values())
  }

  /** As they stand on the disk. */
  get times() {
    return timesIn(this.#house.store)
  }

  async end(): Promise<void> {
    await this.#house.keeper.stop()
    await this.#house.store.close()
  }

  async #start(): Promise<void> {
    await this.#house.start({ forecast: atOnce((_, ledger) => threeSends(ledger)) })
  }
}

it('the keeper reads a house as the bare machine does, whatever fails', { timeout: 300_000 }, async () => {
  await fc.assert(
    fc.asyncProperty(someActs, async acts => {
      const [keeper, bare] = [await new KeeperShell().start(), new BareShell()]
      for (const act of acts) {
        bare.lastKnown = keeper.times.lastLive ?? Number.NaN
        bare.lastTime = keeper.times.last ?? 0
        await keeper.play(act)
        await bare.play(act)
        expect(keeper.readings()).toEqual(bare.readings())
      }
      await keeper.end()
    }),
    {
      numRuns: Number(process.env.SASHTALLY_RUNS ?? 25),
    },
  )
})
