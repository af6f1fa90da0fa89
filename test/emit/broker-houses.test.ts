import { existsSync, mkdirSync, rmSync } from 'node:fs'
import { cp, mkdir, mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { houseAccount } from '../../src/cli/tally/house-account.ts'
import { accounts, sharing } from '../../src/emit/broker/access.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { ropewalk } from './houses.ts'

let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-access-'))
})
afterEach(() => rm(folder, { recursive: true, force: true }))

const emit = async (cwd: string, ...argv: string[]) => {
  const world = fakeWorld({ cwd, env: process.env })
  return { exit: await cli(['emit', ...argv], world), ...world.said }
}
const studios = (to: string) => cp('examples/studios', to, { recursive: true })

test('a house alone at its broker keeps the names of the roles; houses that share one have their own', async () => {
  await studios(join(folder, 'r'))
  const { exit, stdout } = await emit(folder, 'access', '--houses', 'r')
  const users = [...stdout.matchAll(/^user (.*)$/gm)].map(([, user]) => user)
  const roles = (house: string) => ['onlooker', 'direct', 'hand', 'bench', 'keeper'].map(role => `${house}-${role}`)
  expect(exit).toBe(0)
  expect(users).toEqual([
    ...[...roles('dye-house'), 'dyehousew01', 'dyehousew02', 'dyehoused01'],
    ...[...roles('rope-loft'), 'ropeloftw01', 'ropeloftw02'],
  ])
  const alone = await emit(folder, 'access', 'r/rope-loft.yaml')
  expect(alone.stdout).toMatch(/^user keeper$/m)
  expect(alone.stdout).not.toMatch(/^user rope-loft-/m)
})

test('devices of Homie are given to keepers whose domain no other house has', () => {
  const [dye, rope, walk] = ['homie', 'homie', 'walk'].map(homieDomain => ({ ...ropewalk(), homieDomain }))
  const houses = new Map([
    ['dye', dye!],
    ['rope', rope!],
    ['walk', walk!],
  ])
  const writes = sharing(houses).map(
    house => accounts(houses.get(house.name)!, house).find(({ role }) => role === 'keeper')!.writes,
  )
  const devices = writes.map(all => all.filter(topic => /\/5\//.test(topic)))
  expect(devices.slice(0, 2)).toEqual([[], []])
  expect(devices[2]).toEqual(expect.arrayContaining(['walk/5/ropewalk-tally/#', 'walk/5/w01/#']))
  for (const topic of devices[2] ?? []) expect(topic).toMatch(/^walk\/5\/[a-z0-9-]+\/#$/)
})

test('what no list can hold, and what is not of one broker, makes nothing', async () => {
  const text = await readFile('examples/studios/rope-loft.yaml', 'utf8')
  const made = async (registers: Readonly<Record<string, string>>) => {
    await rm(join(folder, 'r'), { recursive: true, force: true })
    await mkdir(join(folder, 'r'))
    for (const [name, register] of Object.entries(registers)) await writeFile(join(folder, 'r', name), register)
    const done = await emit(folder, 'broker', '--houses', 'r', '--out', 'made')
    expect(existsSync(join(folder, 'made'))).toBe(false)
    return done
  }
  const dye = text.replaceAll('rope-loft', 'dye')
  expect(await made({ 'a:b.yaml': text })).toMatchObject({
    exit: 1,
    stderr: expect.stringMatching(/cannot be named "a:b-onlooker"/),
  })
  expect(await made({ 'a.yaml': text, 'b.yaml': text })).toMatchObject({
    exit: 1,
    stderr: expect.stringMatching(/both have the tally/),
  })
  expect(await made({ 'a.yaml': dye, 'b.yaml': 'house: [' })).toMatchObject({
    exit: 1,
    stderr: expect.stringMatching(/b\.yaml:1/),
  })
  expect(await made({ 'a.yaml': dye.replace('127.0.0.1:1883', 'broker.lan'), 'b.yaml': text })).toMatchObject({
    exit: 1,
    stderr: expect.stringMatching(/name more than one broker: broker\.lan:1883, 127\.0\.0\.1:1883/),
  })
  expect(await made({ 'a.yaml': dye.replace('W01,', 'W01, client: b-keeper,'), 'b.yaml': text })).toMatchObject({
    exit: 1,
    stderr: expect.stringMatching(/the account b-keeper is one of a too/),
  })
  expect((await emit(folder, 'access', '--houses', 'r', 'r/a.yaml')).exit).toBe(2)
})

test('a folder whose list takes the place of another names the houses that lose their accounts', async () => {
  await studios(join(folder, 'r'))
  const list = (registers: string) => emit(folder, 'access', '--houses', registers, '--out', 'list')
  expect((await list('r')).stderr).not.toMatch(/had accounts of/)
  await mkdir(join(folder, 'one'))
  await cp(join(folder, 'r', 'dye-house.yaml'), join(folder, 'one', 'dye.yaml'))
  const { exit, stderr } = await list('one')
  expect(exit).toBe(0)
  expect(stderr).toMatch(/^list had accounts of rope-loft with the tally rope-loft\/tally: no register in one has/m)
  expect((await list('one')).stderr).not.toMatch(/had accounts of/)
})

describe('accounts of two houses', () => {
  const make = (...more: string[]) =>
    emit(folder, 'access', '--houses', 'r', '--out', 'list', '--accounts', 'p', '--private', 'h', ...more)
  const account = () => join(folder, 'r', 'dye-house.account')
  beforeEach(async () => {
    await studios(join(folder, 'r'))
    expect(await make()).toMatchObject({ exit: 0 })
  })

  test('one file that cannot be written leaves all others as they were', async () => {
    const files = ['p', 'h/dye-house/private.h', 'h/rope-loft/private.h', 'r/rope-loft.account']
    const texts = () => Promise.all(files.map(file => readFile(join(folder, file), 'utf8')))
    const before = await texts()
    await rm(account())
    await mkdir(account())
    const renewed = ['dyehousew01', 'dye-house-keeper', 'ropeloftw01', 'rope-loft-keeper']
    expect(await make('--renew', ...renewed)).toMatchObject({ exit: 3, stdout: '' })
    expect(await texts()).toEqual(before)
  })

  test('one that cannot be put back either is named, and all others are as they were', async () => {
    const files = ['p', 'h/rope-loft/private.h', 'r/dye-house.account']
    const texts = () => Promise.all(files.map(file => readFile(join(folder, file), 'utf8')))
    const before = await texts()
    const header = join(folder, 'h', 'dye-house', 'private.h')
    const last = join(folder, 'r', 'rope-loft.account')
    await rm(last)
    await mkdir(last)
    const world = fakeWorld({ cwd: folder, env: process.env })
    const write = world.stderr.write
    // What comes behind the header of the first house is written, and something takes the header's place.
    world.stderr.write = text => {
      if (text.includes('holds the password of dye-house-keeper')) {
        rmSync(header)
        mkdirSync(join(header, 'other'), { recursive: true })
      }
      write(text)
    }
    const argv = ['emit', 'access', '--houses', 'r', '--out', 'list', '--accounts', 'p', '--private', 'h']
    const users = ['dyehousew01', 'dye-house-keeper', 'ropeloftw01', 'rope-loft-keeper']
    expect(await cli([...argv, '--renew', ...users], world)).toBe(3)
    expect(world.said.stderr).toMatch(/^h\/dye-house\/private\.h holds new passwords that p has not, .*--renew/m)
    expect(world.said.stderr.match(/could not be put back/g)).toHaveLength(1)
    expect(await texts()).toEqual(before)
  })

  test('the file of a keeper that was lost is told, with what to renew', async () => {
    await rm(account())
    const { exit, stderr } = await make()
    expect(exit).toBe(0)
    expect(stderr).toMatch(/^r\/dye-house\.account is not there, .*: --renew dye-house-keeper$/m)
    expect(stderr).not.toMatch(/--renew rope-loft-keeper/)
    expect((await make('--renew', 'dye-house-keeper')).stderr).not.toMatch(/is not there/)
    expect(await houseAccount(account(), fakeWorld())).toMatchObject({ username: 'dye-house-keeper' })
  })
})

describe(haveMosquitto.title('two houses on one real broker'), { skip: haveMosquitto.skip }, () => {
  let scratch: string
  let broker: Mosquitto
  const passwords = new Map<string, string>()
  const clients: MqttClient[] = []
  let shown = ''

  beforeAll(async () => {
    scratch = await mkdtemp(join(tmpdir(), 'sashtally-shared-'))
    await studios(join(scratch, 'r'))
    const argv = ['access', '--houses', 'r', '--out', 'list', '--accounts', 'hashes', '--private', 'firmware']
    const { exit, stdout, stderr } = await emit(scratch, ...argv)
    expect([exit, stderr]).toEqual([
      0,
      expect.stringContaining('dye-house.account holds the password of dye-house-keeper'),
    ])
    for (const [, user = '', password = ''] of stdout.matchAll(/^ {2}(\S+)\s+(\S{20})\s/gm))
      passwords.set(user, password)
    shown = stdout
    for (const house of ['dye-house', 'rope-loft']) {
      const { username = '', password = '' } =
        (await houseAccount(join(scratch, 'r', `${house}.account`), fakeWorld())) ?? {}
      passwords.set(username, password)
    }
    broker = await Mosquitto.start({
      lines: [`password_file ${join(scratch, 'hashes')}`, `acl_file ${join(scratch, 'list')}`, 'allow_anonymous false'],
    })
  })
  afterEach(async () => {
    for (const client of clients.splice(0)) await client.endAsync(true)
  })
  afterAll(async () => {
    await broker?.close()
    await rm(scratch, { recursive: true, force: true })
  })

  const connect = async (username: string) => {
    const client = await mqtt.connectAsync(broker.mqttUrl, {
      username,
      password: passwords.get(username) ?? '',
      reconnectPeriod: 0,
    })
    clients.push(client)
    const heard: string[] = []
    client.on('message', topic => void heard.push(topic))
    await client.subscribeAsync('#', { qos: 1 }).catch(() => {})
    return { client, heard }
  }

  test('the keeper of each has its account in a file of its own, and contacts theirs in a header each', async () => {
    for (const house of ['dye-house', 'rope-loft']) {
      const file = join(scratch, 'r', `${house}.account`)
      expect((await stat(file)).mode & 0o777).toBe(0o600)
      const account = await houseAccount(file, fakeWorld())
      expect(account?.username).toBe(`${house}-keeper`)
      expect(shown).not.toContain(`${house}-keeper`)
      expect(await readFile(join(scratch, 'firmware', house, 'private.h'), 'utf8')).toMatch(/W01 "\S{20}"/)
    }
    const again = await emit(
      scratch,
      'access',
      '--houses',
      'r',
      '--out',
      'list',
      '--accounts',
      'hashes',
      '--private',
      'firmware',
    )
    expect([again.exit, again.stdout]).toEqual([0, ''])
  })

  test('no account of one house reads or writes the other', async () => {
    const houses = ['dye-house', 'rope-loft'] as const
    const other = { 'dye-house': 'rope-loft', 'rope-loft': 'dye-house' } as const
    const topicsOf = (house: string) =>
      ['w01', 'tally/keeper', 'tally/say/W01', 'tally/opening/W01'].map(each => `${house}/${each}`)
    for (const house of houses) {
      const keeper = await connect(`${house}-keeper`)
      for (const role of ['onlooker', 'direct', 'hand', 'bench', 'keeper']) {
        const stranger = await connect(`${other[house]}-${role}`)
        for (const topic of topicsOf(house)) await stranger.client.publishAsync(topic, 'no', { qos: 1 })
        // What the broker handed on before this came before it, to everybody.
        const own = `${other[house]}/tally/opening/W02`
        const [watch, sign] = [await connect(`${other[house]}-keeper`), `${house}/tally/opening/W02`]
        await watch.client.publishAsync(own, 'yes', { qos: 1 })
        await keeper.client.publishAsync(sign, 'yes', { qos: 1 })
        await until(`${role} hears its own house`, () => stranger.heard.includes(own))
        await until('the keeper hears its own', () => keeper.heard.includes(sign))
        expect([role, stranger.heard.filter(topic => !topic.startsWith(other[house]))]).toEqual([role, []])
        expect([role, keeper.heard.filter(topic => topic !== sign)]).toEqual([role, []])
        await stranger.client.endAsync(true)
        await watch.client.endAsync(true)
      }
    }
  })
})
