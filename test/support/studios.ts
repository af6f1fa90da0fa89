import { mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { cli } from '../../src/cli/cli.ts'
import type { Mosquitto } from './mosquitto.ts'
import { until } from './until.ts'
import { type FakeWorld, fakeWorld } from './world.ts'

interface Wanted {
  readonly marks?: readonly string[]
  readonly tally?: string
  readonly websocket?: string
}

/** A folder of registers on one broker, whose houses have doors that report both edges. */
export class Studios {
  readonly folder = mkdtempSync(join(tmpdir(), 'sashtally-studios-'))
  readonly registers = join(this.folder, 'registers')
  readonly data = join(this.folder, 'data')
  readonly #broker: Mosquitto

  constructor(broker: Mosquitto) {
    this.#broker = broker
    mkdirSync(this.registers)
  }

  /** A house with a yard door D01 and more openings on coin cells. */
  house(
    name: string,
    { marks = [], tally = `${name}/tally`, websocket = this.#broker.websocketUrl }: Wanted = {},
  ): void {
    const address = websocket === '' ? '' : `, websocket: '${websocket}'`
    this.write(
      `${name}.yaml`,
      `house: Ropewalk Studios, ${name}
timezone: Europe/Lisbon
broker: { mqtt: '${this.#broker.mqttUrl}'${address} }
tally: ${tally}
senders:
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }, bounceSeconds: 1 }
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: D01, name: Yard door, kind: door, sender: yard }
${marks.map(mark => `  - { mark: ${mark}, name: 'Vat room, ${mark}', room: Vat room, sender: coin }`).join('\n')}
`,
    )
  }

  /** Whole or not at all, as an editor does it. */
  write(file: string, text: string): void {
    writeFileSync(join(this.registers, '.new'), text, { mode: 0o600 })
    renameSync(join(this.registers, '.new'), join(this.registers, file))
  }

  take(file: string): void {
    rmSync(join(this.registers, file))
  }

  /** `serve --houses` in this process: its page once it listens, and its end. */
  async serve(...more: string[]): Promise<{ page: string; world: FakeWorld; end(): Promise<number> }> {
    const world = fakeWorld()
    const argv = ['serve', '--houses', this.registers, '--data', this.data, '--port', '0', ...more]
    const done = cli(argv, world)
    const page = await until('the page', () => {
      if (world.said.stderr) throw new Error(world.said.stderr)
      return /the houses: (\S+)/.exec(world.said.stdout)?.[1]
    })
    const end = (): Promise<number> => {
      world.interrupt()
      return done
    }
    return { page, world, end }
  }

  remove(): void {
    rmSync(this.folder, { recursive: true, force: true })
  }
}
