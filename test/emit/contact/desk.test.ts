import { type ChildProcess, spawn } from 'node:child_process'
import { rmSync } from 'node:fs'
import { join } from 'node:path'
import type { IPublishPacket, Packet } from 'mqtt-packet'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { earsOf } from '../../../src/house/policy.ts'
import { hear } from '../../../src/ledger/hear.ts'
import type { Register } from '../../../src/register/types.ts'
import { type Ear, listenTo } from '../../support/ear.ts'
import { needs } from '../../support/missing.ts'
import { Mosquitto } from '../../support/mosquitto.ts'
import { Tap, type TapOptions } from '../../support/tap.ts'
import { pause, until } from '../../support/until.ts'
import { benchHouse, SANITIZED, Workbench } from './built.ts'

const haveAll = needs('gcc', 'mosquitto', 'mosquitto_passwd')

/** Waits as long as a busy machine may need; what is measured is asked of the times that were noted. */
const PATIENT = [
  '-DCONTACT_ANSWER_MILLISECONDS=60000',
  '-DCONTACT_OPEN_MILLISECONDS=60000',
  '-DCONTACT_AWAKE_MILLISECONDS=120000',
]
const KEEP_ALIVE = 3

/** One contact that runs on this machine. */
class Desk {
  readonly process: ChildProcess
  says = ''
  readonly ended: Promise<number | null>

  constructor(program: string, folder: string) {
    this.process = spawn(program, [], { cwd: folder, stdio: ['pipe', 'ignore', 'pipe'] })
    this.process.stderr!.on('data', text => {
      this.says += String(text)
    })
    this.ended = new Promise(done => this.process.once('exit', code => done(code)))
  }

  /** Lines for a contact of both edges. */
  edge(...edges: ('opened' | 'closed')[]): void {
    this.process.stdin!.write(edges.map(edge => `${edge}\n`).join(''))
  }

  /** Its power is gone. */
  powerOff(): void {
    this.process.stdin!.end()
  }

  kill(): void {
    this.process.kill('SIGKILL')
  }
}

describe(haveAll.title('a contact on a desk, with a real broker'), { skip: haveAll.skip }, () => {
  let bench: Workbench
  let broker: Mosquitto
  const open: { close(): unknown }[] = []
  const desks: Desk[] = []

  beforeAll(() => {
    bench = new Workbench(benchHouse())
  })
  afterAll(() => bench?.clear())
  beforeEach(async () => {
    // One for each test: the will of a contact that the last test killed comes when it comes.
    broker = await Mosquitto.start()
    open.push(broker)
    for (const mark of ['W01', 'W10', 'D01']) rmSync(join(bench.folder, `${mark}.flash`), { force: true })
  })
  afterEach(async () => {
    for (const desk of desks.splice(0)) desk.kill()
    for (const one of open.splice(0)) await one.close()
  })

  const run = (mark: string, register: Register, args: readonly string[] = PATIENT): Desk => {
    bench.take(register)
    const desk = new Desk(bench.build(mark, 'contact_posix', [...SANITIZED, ...args]), bench.folder)
    desks.push(desk)
    return desk
  }
  const listen = async (topic: string): Promise<Ear> => {
    const ear = listenTo({ url: broker.mqttUrl }, [topic])
    open.push(ear.feed)
    await ear.live()
    return ear
  }
  const tapped = async (options: TapOptions = {}): Promise<Tap> => {
    const tap = await Tap.before(broker.mqttPort, options)
    open.push(tap)
    return tap
  }
  const published = (packets: readonly Packet[]) =>
    packets.filter((packet): packet is IPublishPacket => packet.cmd === 'publish')
  /** What a new subscriber is given. */
  const kept = async (topic: string): Promise<string | undefined> => {
    const ear = await listen(topic)
    await pause(300)
    return ear.heard.find(({ retain }) => retain)?.text
  }

  test('its word is heard, then its rest word in the time of a will, and it never said goodbye', async () => {
    const tap = await tapped()
    const ear = await listen('ropewalk/w01')
    const desk = run('W01', benchHouse(tap.port, {}, KEEP_ALIVE))
    const [word, rest] = [await ear.nth(1), await ear.nth(2)]
    expect(word).toMatchObject({ text: 'opened', retain: false, qos: 1 })
    expect(rest).toMatchObject({ text: 'asleep' })
    // 1.5 keep-alives (MQTT-3.1.2-24): a broker may round down by half a second, a busy machine may hear late.
    expect(rest.at - word.at).toBeGreaterThan(1500 * KEEP_ALIVE - 1500)
    expect(await desk.ended).toBe(0)
    expect(desk.says).toMatch(/^W01: acknowledged after \d+ ms, 1 tries, lowest 3000 mV\n$/)
    expect(tap.connections.map(({ packets }) => packets.map(({ cmd }) => cmd))).toEqual([['connect', 'publish']])
    // The rest word is kept, its own word is not.
    expect(await kept('ropewalk/w01')).toBe('asleep')
  })

  test('JSON with every figure: the boots count from start to start', async () => {
    const register = benchHouse(broker.mqttPort)
    const opening = register.openings.find(({ mark }) => mark === 'W10')!
    const ear = await listen('ropewalk/w10')
    for (const boots of [1, 2]) {
      const desk = run('W10', register)
      const heard = await ear.nth(2 * boots - 1, 60)
      await ear.nth(2 * boots, 60)
      expect(await desk.ended).toBe(0)
      expect(hear(earsOf(register), heard, { id: 'a', at: new Date(0).toISOString() })).toMatchObject({
        what: 'opened',
        boots,
        millivolts: 3000,
        revision: opening.revision,
      })
      expect((JSON.parse(heard.text) as { cell: { ms: number } }).cell.ms).toBeGreaterThanOrEqual(0)
    }
  })

  test('with an account: its own password lets it in, another is refused once, and it sleeps', async () => {
    const guarded = await Mosquitto.start({ accounts: { ropewalkw01: 'Sesame "42"\\', ropewalkd01: 'x', ear: 'ear' } })
    open.push(guarded)
    const ear = listenTo({ url: guarded.mqttUrl, username: 'ear', password: 'ear' }, ['ropewalk/w01'])
    open.push(ear.feed)
    await ear.live()
    const tap = await Tap.before(guarded.mqttPort)
    open.push(tap)
    const register = benchHouse(tap.port)
    const withPassword = (password: string) => {
      bench.take(register, new Map([['W01', password]]))
      const desk = new Desk(bench.build('W01', 'contact_posix', [...SANITIZED, ...PATIENT]), bench.folder)
      desks.push(desk)
      return desk
    }
    withPassword('Sesame "42"\\')
    expect((await ear.nth(1)).text).toBe('opened')
    const refused = withPassword('sesame')
    expect(await refused.ended).toBe(1)
    expect(refused.says).toMatch(/^W01: the broker refuses after \d+ ms, 1 tries, .*\nW01: return code [45]\n$/)
    expect(tap.connections).toHaveLength(2)
    expect(tap.connections[1]!.packets.map(({ cmd }) => cmd)).toEqual(['connect'])
  })

  test('a contact of both edges that is refused asks again only after its longest pause', async () => {
    const guarded = await Mosquitto.start({ accounts: { nobody: 'x' } })
    open.push(guarded)
    const tap = await Tap.before(guarded.mqttPort)
    open.push(tap)
    run('D01', benchHouse(tap.port), [...PATIENT, '-DCONTACT_LONGEST_PAUSE_MILLISECONDS=4000'])
    await until('a first refusal', () => tap.connections[0]?.isOpen === false)
    const first = Date.now()
    await until('a second connection', () => tap.connections.length === 2)
    expect(Date.now() - first).toBeGreaterThan(1500)
  })

  test('an acknowledgement that comes too late is not waited for: it says its word again, with DUP, and sleeps', async () => {
    const tap = await tapped({ late: connection => (connection === 0 ? 60_000 : 0) })
    const ear = await listen('ropewalk/w10')
    const desk = run('W10', benchHouse(tap.port), [
      '-DCONTACT_ANSWER_MILLISECONDS=3000',
      '-DCONTACT_PAUSE_MILLISECONDS=50',
    ])
    await until('two connections', () => tap.connections.length === 2)
    await until('its end', () => desk.says !== '')
    expect(desk.says).toMatch(/^W10: acknowledged after \d+ ms, 2 tries/)
    const [first, again] = tap.connections.flatMap(({ packets }) => published(packets))
    expect([first!.dup, again!.dup]).toEqual([false, true])
    expect(again!.messageId).toBe(first!.messageId)
    expect(again!.payload).toEqual(first!.payload)
    // Both were taken by the broker: the same bytes, with the same count of boots.
    await until('both words', () => ear.heard.filter(({ text }) => text.includes('"boots":1')).length === 2)
    expect(tap.connections.flatMap(({ packets }) => packets).some(({ cmd }) => cmd === 'disconnect')).toBe(false)
  })

  test('a broker that dies between CONNECT and the word: it tries again, and the word is heard', async () => {
    const frail = await Mosquitto.start()
    open.push(frail)
    let died = false
    const tap = await Tap.before(frail.mqttPort, {
      onPacket: async packet => {
        if (packet.cmd !== 'publish' || died) return
        died = true
        await frail.stop('SIGKILL')
        await frail.start()
      },
    })
    open.push(tap)
    const desk = run('W01', benchHouse(tap.port), [
      ...PATIENT,
      '-DCONTACT_TRIES=50',
      '-DCONTACT_PAUSE_MILLISECONDS=200',
    ])
    await until('its end', () => desk.says !== '')
    expect(desk.says).toMatch(/^W01: acknowledged/)
    const words = tap.connections.flatMap(({ packets }) => published(packets))
    expect(words.map(({ dup }) => dup)).toEqual([false, ...words.slice(1).map(() => true)])
    expect(words.length).toBeGreaterThan(1)
  })

  test('without a broker it gives up and sleeps', async () => {
    const register = benchHouse(broker.mqttPort)
    const nobody = await Tap.before(broker.mqttPort)
    const port = nobody.port
    await nobody.close()
    const desk = run('W01', { ...register, broker: { mqtt: `mqtt://127.0.0.1:${port}` } })
    expect(await desk.ended).toBe(1)
    expect(desk.says).toMatch(/^W01: the broker was not reached after \d+ ms, 2 tries/)
  })

  test('a node that is gone is passed over', async () => {
    const gone = await Tap.before(broker.mqttPort)
    const nodes = [`mqtt://127.0.0.1:${gone.port}`, `mqtt://localhost:${broker.mqttPort}`]
    await gone.close()
    const register = { ...benchHouse(), broker: { mqtt: nodes[0]!, mqttNext: nodes.slice(1) } }
    const ear = await listen('ropewalk/w01')
    const desk = run('W01', register)
    await until('its end', () => desk.says !== '')
    expect(desk.says).toMatch(/^W01: acknowledged after \d+ ms, 1 tries/)
    await until('its word', () => ear.heard.some(({ text, retain }) => text === 'opened' && !retain))
  })

  test('both edges: each is said and kept, pings keep it there, and at the end of its power the will says that it is gone', async () => {
    const tap = await tapped()
    const ear = await listen('ropewalk/d01')
    const desk = run('D01', benchHouse(tap.port))
    desk.edge('closed')
    expect(await ear.nth(1)).toMatchObject({ text: 'shut', qos: 1 })
    desk.edge('opened', 'closed', 'opened')
    await ear.nth(4)
    expect(ear.heard.map(({ text }) => text)).toEqual(['shut', 'ajar', 'shut', 'ajar'])
    expect(await kept('ropewalk/d01')).toBe('ajar')
    // Idle for longer than a broker waits.
    await until('three pings', () => tap.connections[0]!.packets.filter(({ cmd }) => cmd === 'pingreq').length >= 3)
    expect(tap.connections).toHaveLength(1)
    expect(ear.heard).toHaveLength(4)
    desk.powerOff()
    expect((await ear.nth(5)).text).toBe('lost')
    expect(await desk.ended).toBe(0)
    expect(tap.connections).toHaveLength(1)
    expect(published(tap.connections[0]!.packets).every(({ retain, dup }) => retain && !dup)).toBe(true)
    expect(tap.connections[0]!.packets.some(({ cmd }) => cmd === 'disconnect')).toBe(false)
    expect(await kept('ropewalk/d01')).toBe('lost')
  })

  test('both edges: after a lost link it comes back by itself and says where its door is now', async () => {
    const tap = await tapped()
    const ear = await listen('ropewalk/d01')
    const desk = run('D01', benchHouse(tap.port), [
      ...PATIENT,
      '-DCONTACT_PAUSE_MILLISECONDS=100',
      '-DCONTACT_LONGEST_PAUSE_MILLISECONDS=400',
    ])
    desk.edge('opened')
    await ear.nth(1)
    tap.connections[0]!.cut()
    desk.edge('closed')
    await until('the last word to be shut', () => ear.heard.at(-1)?.text === 'shut' && tap.connections.length > 1)
    // Cut off from it, the broker says the will at once; then the contact's own word stands again.
    expect(ear.heard.map(({ text }) => text)).toContain('lost')
    tap.connections.at(-1)!.cut()
    const before = ear.heard.length
    await until('the same word once more', () => ear.heard.slice(before).some(({ text }) => text === 'shut'))
    expect(await kept('ropewalk/d01')).toBe('shut')
  })
})
