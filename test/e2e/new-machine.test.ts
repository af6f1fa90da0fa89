import { spawnSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { HOUSE } from '../keeper/bench-house.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')
const stepsUnder = (heading: string): string[] => {
  const page = readme.slice(readme.indexOf(`### ${heading}\n`))
  return /```sh\n([\s\S]*?)```/.exec(page)![1]!.trimEnd().split('\n')
}

/** The pages of the README, each step as it stands there, on a machine whose folders lie in a scratch folder. */
describe(haveMosquitto.title('when a machine dies'), { skip: haveMosquitto.skip }, () => {
  const scratch = mkdtempSync(join(tmpdir(), 'sashtally-machine-'))
  const isRoot = process.getuid?.() === 0
  const passwords = new Map<string, string>()
  let broker: Mosquitto
  let service: { world: FakeWorld; ended: Promise<number> } | undefined

  /** Paths of the machine, and of what was carried over. */
  const here = (word: string): string => word.replace(/^\/(etc|var)\//, `${scratch}/machine/$1/`)
  const worldOf = (user?: string) =>
    fakeWorld({
      cwd: join(scratch, 'carried'),
      env: { ...process.env, ...(user === undefined ? {} : { SASHTALLY_USER: user }) },
      ask: () => Promise.resolve(passwords.get('keeper') ?? ''),
    })
  const sashtally = async (argv: readonly string[], user?: string): Promise<string> => {
    const world = worldOf(user)
    const done = cli(argv, world)
    if (argv[0] === 'keep') {
      await until('the rest words', () => {
        if (world.said.stderr) throw new Error(world.said.stderr)
        return world.said.stdout.includes('rest words were given back')
      })
      world.interrupt()
    }
    expect([argv.join(' '), await done, world.said.stderr]).toEqual([argv.join(' '), 0, ''])
    return world.said.stdout
  }
  /** The service of the unit file: the keeper, until it is stopped. */
  async function start(): Promise<void> {
    const world = worldOf('keeper')
    const argv = ['keep', here('/etc/sashtally/house.yaml'), '--data', here('/var/lib/sashtally')]
    service = { world, ended: cli(argv, world) }
    await until('the service', () => world.said.stdout.includes('keeping 4 openings'))
  }
  async function stop(): Promise<void> {
    service?.world.interrupt()
    expect(await service?.ended).toBe(0)
    service = undefined
  }
  const settingsFile = here('/etc/mosquitto/mosquitto.conf')
  /** Its store lies in the scratch folder: the machine's own broker is not touched. */
  const settle = (): void => {
    const text = readFileSync(settingsFile, 'utf8').replaceAll('/var/lib/mosquitto/', `${here('/var/lib/mosquitto/')}`)
    writeFileSync(settingsFile, text)
  }
  const told: string[] = []
  async function follow(step: string): Promise<void> {
    const words = step.split(' ').map(here)
    if (words.shift() !== 'sudo') throw new Error(`a step for root: ${step}`)
    if (words[0] === '-u') words.splice(0, 2)
    let user: string | undefined
    if (words[0] === 'env') user = words.splice(0, 2)[1]?.replace('SASHTALLY_USER=', '')
    if (words[0] === 'sashtally') told.push(await sashtally(words.slice(1), user))
    else if (words[0] === 'install') {
      const line = words.join(' ').replace(/ -o (\S+)/, (owner, name) => (isRoot && name === 'mosquitto' ? owner : ''))
      const done = spawnSync('sh', ['-c', line], { cwd: join(scratch, 'carried'), encoding: 'utf8' })
      expect([line, done.status, done.stderr]).toEqual([line, 0, ''])
    } else if (step === 'sudo systemctl restart mosquitto') {
      settle()
      await broker.stop()
      await broker.start()
    } else if (/^sudo systemctl (start|enable --now) sashtally$/.test(step)) await start()
    else if (step === 'sudo systemctl stop sashtally') await stop()
    else expect(step).toBe('sudo apt-get install mosquitto')
  }
  /** What the broker keeps on every topic of the house. */
  async function retained(): Promise<Map<string, string>> {
    const found = new Map<string, string>()
    const password = passwords.get('direct')!
    const client = await mqtt.connectAsync(broker.mqttUrl, { username: 'direct', password, reconnectPeriod: 0 })
    client.on('message', (topic, payload) => void found.set(topic, payload.toString()))
    await client.subscribeAsync('#', { qos: 1 })
    await until('the readings', () => found.has('ropewalk/tally/plain/W01') && found.has('ropewalk/tally/keeper'))
    await client.endAsync()
    return found
  }

  beforeAll(async () => {
    for (const folder of [
      'carried/backups',
      'machine/etc/mosquitto',
      'machine/etc/sashtally',
      'machine/var/lib/mosquitto',
    ])
      mkdirSync(join(scratch, folder), { recursive: true })
    if (isRoot) spawnSync('chown', ['-R', 'mosquitto', scratch])
    broker = await Mosquitto.start({
      configure: async ({ mqttPort, websocketPort }) => {
        const addresses = `mqtt: 'mqtt://127.0.0.1:${mqttPort}', websocket: 'ws://127.0.0.1:${websocketPort}'`
        const yaml = HOUSE.replace("mqtt: 'mqtt://broker.lan:1883'", addresses)
        writeFileSync(join(scratch, 'carried/house.yaml'), yaml)
        writeFileSync(here('/etc/sashtally/house.yaml'), yaml)
        const place = here('/etc/mosquitto/').replace(/\/$/, '')
        const world = worldOf()
        const argv = ['emit', 'broker', 'house.yaml', '--out', 'broker', '--place', place]
        expect(await cli([...argv, '--accounts', 'broker/house.passwords'], world)).toBe(0)
        for (const [, user = '', password = ''] of world.said.stdout.matchAll(/^ {2}(\S+)\s+(\S{20})\s/gm))
          passwords.set(user, password)
        for (const step of stepsUnder('This machine died, here is a new one').slice(1, 3)) await follow(step)
        settle()
        return settingsFile
      },
    })
    // The tally of the machine that died, as far as its last backup.
    const entries = [
      { id: 'a1', at: '2026-05-01T08:00:00.000Z', mark: 'W01', what: 'opened', how: 'live' },
      { id: 'a2', at: '2026-05-01T08:00:06.000Z', mark: 'W01', what: 'rest', how: 'live' },
      { id: 'a3', at: '2026-05-01T08:30:00.000Z', mark: 'W01', what: 'seen-closed', how: 'live' },
    ]
    writeFileSync(join(scratch, 'carried/entries.jsonl'), entries.map(entry => `${JSON.stringify(entry)}\n`).join(''))
    await sashtally(['import', 'house.yaml', 'entries.jsonl', '--data', 'died'])
    await sashtally(['export', 'house.yaml', '--data', 'died', '--backup', 'backups/tally-2026-05-01.sqlite'])
  })
  afterAll(async () => {
    if (service) await stop()
    await broker?.close()
    rmSync(scratch, { recursive: true, force: true })
  })

  test('the page for a new machine, step by step, brings tally, accounts and rest words back', async () => {
    for (const step of stepsUnder('This machine died, here is a new one')) await follow(step)
    expect(told.join()).toMatch(/3 entries come from the backup/)
    const found = await retained()
    for (const topic of ['ropewalk/w01', 'ropewalk/w02', 'ropewalk/w03'])
      expect([topic, found.get(topic)]).toEqual([topic, 'asleep'])
    expect(found.has('ropewalk/d01')).toBe(false)
    expect(JSON.parse(found.get('ropewalk/tally/opening/W01')!)).toMatchObject({ openings: 1, position: 'closed' })
    // Nobody listened since the backup.
    expect(found.get('ropewalk/tally/plain/W01')).toBe('not-certain')
    expect(JSON.parse(found.get('ropewalk/tally/keeper')!).state).toBe('live')
  })

  test('the page for a rebuilt broker, step by step, loses no entry', async () => {
    const contact = await mqtt.connectAsync(broker.mqttUrl, {
      username: 'ropewalkw02',
      password: passwords.get('ropewalkw02')!,
    })
    await contact.publishAsync('ropewalk/w02', 'opened', { qos: 1 })
    await contact.endAsync()
    await until('its reading', async () => (await retained()).get('ropewalk/tally/plain/W02') === 'may-be-open')
    await broker.stop('SIGKILL')
    rmSync(here('/var/lib/mosquitto/mosquitto.db'))
    rmSync(here('/etc/mosquitto/'), { recursive: true })
    mkdirSync(here('/etc/mosquitto/'))
    for (const step of stepsUnder('The broker was rebuilt, the tally is whole')) await follow(step)
    const found = await retained()
    expect(found.get('ropewalk/w02')).toBe('asleep')
    expect(JSON.parse(found.get('ropewalk/tally/opening/W02')!)).toMatchObject({ openings: 1 })
    expect(found.get('ropewalk/tally/plain/W02')).toBe('may-be-open')
    expect(JSON.parse(found.get('ropewalk/tally/opening/W01')!)).toMatchObject({ openings: 1 })
  })
})
