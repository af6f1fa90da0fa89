import { spawnSync } from 'node:child_process'
import { mkdir, mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { accessList, accessProblems, accounts } from '../../src/emit/broker/access.ts'
import { brokerSettings } from '../../src/emit/broker/settings.ts'
import type { Register } from '../../src/register/types.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { registerOf, ropewalk } from './houses.ts'

const read = (path: string) => readFile(new URL(`../../${path}`, import.meta.url), 'utf8')

describe('names that an access list cannot hold', () => {
  const register = ropewalk()
  const [w01] = register.openings as [(typeof register.openings)[0]]
  const renamed = (client: string, topic = w01.topic, { tally } = register) =>
    accessProblems({ ...register, tally, openings: [{ ...w01, client, topic }] })
  test('are told, each with what is wrong', () => {
    expect(renamed('rww01')).toEqual([])
    expect(renamed('keeper')[0]).toMatch(/name of a role/)
    expect(renamed('a\nuser hand')[0]).toMatch(/cannot be named/)
    expect(renamed('#x')[0]).toMatch(/cannot be named/)
    expect(renamed('rww01', 'a\ntopic x')[0]).toMatch(/^W01: the topic "a\\ntopic x" holds a control character/)
    const tally = 'rope/tally\nuser eve\ntopic read dye/tally'
    expect(renamed('rww01', ' a', { ...register, tally })).toEqual([
      expect.stringMatching(/^the topic tally "rope\/tally\\nuser eve.*" holds a control character/),
      expect.stringMatching(/^W01: the topic " a" begins or ends with a blank/),
    ])
    expect(() => accessList({ ...register, tally })).toThrow(RangeError)
  })
})

describe('the settings', () => {
  const at = { place: '/etc/mosquitto', passwords: 'house.passwords' }
  const withBroker = (broker: Register['broker']) => brokerSettings({ ...ropewalk(), broker }, at)

  test('README and example show what is made for a house whose broker has a name', async () => {
    const made = withBroker({ mqtt: 'mqtt://broker.lan:1883', websocket: 'ws://broker.lan:9001' })
    expect(await read('examples/mosquitto.conf')).toBe(made)
    expect(await read('README.md')).toContain(`\`\`\`conf\n${made}\`\`\``)
  })
  test('listen where the register says, with a certificate where it says so', () => {
    const lines = (broker: Register['broker']) =>
      withBroker(broker)
        .split('\n')
        .filter(line => /^(listener|protocol|certfile|keyfile) /.test(line))
    expect(lines({})).toEqual(['listener 1883'])
    expect(lines({ mqtt: 'mqtt://127.0.0.1:1884', websocket: 'ws://[::1]:9002' })).toEqual([
      'listener 1884 127.0.0.1',
      'listener 9002 ::1',
      'protocol websockets',
    ])
    const files = ['certfile /etc/mosquitto/certificate.pem', 'keyfile /etc/mosquitto/key.pem']
    expect(lines({ mqtt: 'mqtts://broker.lan', websocket: 'wss://broker.lan' })).toEqual([
      'listener 8883',
      ...files,
      'listener 443',
      'protocol websockets',
      ...files,
    ])
  })
  test('give each keyword once, but for what belongs to a listener: mosquitto does not start otherwise', () => {
    const words = withBroker({ mqtt: 'mqtt://broker.lan', websocket: 'ws://broker.lan' })
      .split('\n')
      .filter(line => /^[a-z]/.test(line) && !/^(listener|protocol) /.test(line))
      .map(line => line.split(' ')[0])
    expect(new Set(words).size).toBe(words.length)
  })
})

/** What an account may read and write, by the words of the README's table. */
const README_TABLE: Readonly<Record<string, { row: string; reads: RegExp; writes: RegExp }>> = {
  onlooker: { row: 'read the tally', reads: /^tally/, writes: /^$/ },
  direct: { row: 'read the tally and the contacts', reads: /^(tally|contact)/, writes: /^$/ },
  hand: { row: 'read the tally, and say what was seen', reads: /^tally/, writes: /^tally say$/ },
  bench: {
    row: 'read the tally and the contacts, and say what was seen',
    reads: /^(tally|contact)/,
    writes: /^tally say$/,
  },
  keeper: {
    row: 'read the contacts; write the tally, the devices of `--homie`, and the rest words of a rebuilt broker',
    reads: /^(tally|contact|homie)/,
    writes: /^(tally|contact|homie)/,
  },
}
/** One for each contact: write its own topic. */
const CONTACT = { row: 'write its own topic', reads: /^$/, writes: /^own$/ }

describe(haveMosquitto.title('the set on a real broker'), { skip: haveMosquitto.skip }, () => {
  const isRoot = process.getuid?.() === 0
  let scratch: string
  let broker: Mosquitto
  let yaml: string
  const passwords = new Map<string, string>()
  const emit = async () => {
    const world = fakeWorld({ cwd: scratch, env: process.env })
    await writeFile(join(scratch, 'house.yaml'), yaml)
    const place = join(scratch, 'etc')
    const argv = ['emit', 'broker', 'house.yaml', '--out', 'made', '--place', place]
    expect(await cli([...argv, '--accounts', 'made/house.passwords'], world)).toBe(0)
    for (const [, user = '', password = ''] of world.said.stdout.matchAll(/^ {2}(\S+)\s+(\S{20})\s/gm))
      passwords.set(user, password)
    return world.said
  }
  /** Does what the command says is to be done, as root would, or without the change of owner. */
  const bringIn = (said: string): void => {
    for (const [, step = ''] of said.matchAll(/^ {2}sudo (install .*)$/gm)) {
      const done = spawnSync('sh', ['-c', isRoot ? step : step.replace(' -o mosquitto', '')], { cwd: scratch })
      expect([step, done.status, String(done.stderr)]).toEqual([step, 0, ''])
    }
  }

  beforeAll(async () => {
    scratch = await mkdtemp(join(tmpdir(), 'sashtally-broker-'))
    for (const folder of ['etc', 'store']) await mkdir(join(scratch, folder))
    if (isRoot) spawnSync('chown', ['-R', 'mosquitto', scratch])
    const configure = async ({ mqttPort, websocketPort }: { mqttPort: number; websocketPort: number }) => {
      yaml = (await read('examples/ropewalk.yaml'))
        .replaceAll(':1883', `:${mqttPort}`)
        .replaceAll(':9001', `:${websocketPort}`)
      bringIn((await emit()).stderr)
      // The one line that is not as it was made: the store of the machine's own broker is not touched.
      const file = join(scratch, 'etc/mosquitto.conf')
      const text = await readFile(file, 'utf8')
      await writeFile(file, text.replace('/var/lib/mosquitto/', `${join(scratch, 'store')}/`))
      return file
    }
    broker = await Mosquitto.start({ configure })
  })
  afterAll(async () => {
    await broker?.close()
    await rm(scratch, { recursive: true, force: true })
  })

  const connect = (username: string, url = broker.mqttUrl) =>
    mqtt.connectAsync(url, {
      username,
      password: passwords.get(username) ?? '',
      clientId: `t${username}${Math.random()}`.slice(0, 23),
      reconnectPeriod: 0,
    })
  const rightsOf = (user: string) => README_TABLE[user] ?? CONTACT

  test('the README’s table of accounts is the one that is tried here', async () => {
    const readme = await read('README.md')
    for (const [account, { row }] of Object.entries(README_TABLE))
      expect(readme).toContain(`| \`${account}\` | ${row} |`)
    expect(readme).toContain(`| one for each contact | ${CONTACT.row} |`)
  })

  test('every account can do what the table says, and nothing else', async () => {
    const { tally, openings } = registerOf(yaml)
    const topics = new Map([
      ...openings.map(({ topic }) => [topic, 'contact'] as const),
      ...['register', 'opening/W01', 'plain/W01', 'story/W01', 'alert', 'keeper', 'keeper/echo/x', 'heard/x'].map(
        below => [`${tally}/${below}`, 'tally'] as const,
      ),
      [tally, 'tally'],
      [`${tally}/say/W01`, 'tally say'],
      [`${tally}/say/W01/more`, 'tally'],
      ['homie/5/ropewalk-tally/$state', 'homie'],
      ['homie/5/w01/$description', 'homie'],
      ['homie/5/print-tally/$state', 'elsewhere'],
      [`${tally}x`, 'elsewhere'],
      ['elsewhere', 'elsewhere'],
    ])
    const users = [...Object.keys(README_TABLE), ...openings.map(({ client }) => client)]
    const got = new Set<string>()
    const clients = new Map<string, MqttClient>()
    for (const user of users) {
      const client = await connect(user)
      client.on('message', (topic, payload) => void got.add(`${payload} writes ${topic}, ${user} reads`))
      await client.subscribeAsync(['#', '$SYS/#'], { qos: 1 })
      clients.set(user, client)
    }
    const may = new Set<string>()
    for (const [writer, client] of clients) {
      const own = openings.find(opening => opening.client === writer)?.topic
      await Promise.all([...topics.keys()].map(topic => client.publishAsync(topic, writer, { qos: 1 })))
      for (const [topic, kind] of topics) {
        if (!rightsOf(writer).writes.test(topic === own ? 'own' : kind)) continue
        for (const reader of users) {
          if (rightsOf(reader).reads.test(kind)) may.add(`${writer} writes ${topic}, ${reader} reads`)
        }
      }
    }
    // What was written before has come by then: to roles with a last word, to contacts before their acknowledgement.
    await clients.get('keeper')!.publishAsync(`${tally}/plain/end`, 'keeper', { qos: 1 })
    for (const user of Object.keys(README_TABLE)) {
      const last = `keeper writes ${tally}/plain/end, ${user} reads`
      await until(`the last word for ${user}`, () => got.delete(last))
    }
    for (const { client } of openings) await clients.get(client)!.publishAsync('elsewhere', client, { qos: 1 })
    for (const client of clients.values()) await client.endAsync(true)
    expect([...got].sort()).toEqual([...may].sort())
    expect(may.size).toBeGreaterThan(200)
  })

  test('a page comes in over WebSockets', async () => {
    await (await connect('onlooker', broker.websocketUrl)).endAsync()
  })
  test('the line to try it where it was made starts a broker that knows its accounts', async () => {
    let password = ''
    const configure = async ({ mqttPort, websocketPort }: { mqttPort: number; websocketPort: number }) => {
      const text = (await read('examples/ropewalk.yaml')).replaceAll(':1883', `:${mqttPort}`)
      await writeFile(join(scratch, 'try.yaml'), text.replaceAll(':9001', `:${websocketPort}`))
      const world = fakeWorld({ cwd: scratch, env: process.env })
      const argv = ['emit', 'broker', 'try.yaml', '--out', 'tried', '--accounts', 'tried/house.passwords']
      expect(await cli(argv, world)).toBe(0)
      password = /^ {2}onlooker\s+(\S{20})\s/m.exec(world.said.stdout)?.[1] ?? password
      const [, path = ''] = /^ {2}mosquitto -v -c (\S+) /m.exec(world.said.stderr)!
      const file = join(scratch, path)
      const made = await readFile(file, 'utf8')
      await mkdir(join(scratch, 'tried-store'), { recursive: true })
      await writeFile(file, made.replace('/var/lib/mosquitto/', `${join(scratch, 'tried-store')}/`))
      if (isRoot) spawnSync('chown', ['-R', 'mosquitto', scratch])
      return file
    }
    const tried = await Mosquitto.start({ configure })
    try {
      const options = { username: 'onlooker', password, reconnectPeriod: 0 }
      await (await mqtt.connectAsync(tried.mqttUrl, options)).endAsync()
      await expect(mqtt.connectAsync(tried.mqttUrl, { ...options, password: 'wrong' })).rejects.toThrow()
    } finally {
      await tried.close()
    }
    const elsewhere = await emit()
    expect(elsewhere.stderr).toMatch(/To try it here first.* without --place/)
  })
  test('nobody comes in without an account or with a wrong password', async () => {
    await expect(mqtt.connectAsync(broker.mqttUrl, { reconnectPeriod: 0 })).rejects.toThrow()
    const options = { username: 'onlooker', password: 'wrong', reconnectPeriod: 0 }
    await expect(mqtt.connectAsync(broker.mqttUrl, options)).rejects.toThrow()
  })
  test('passwords and access list are for the broker alone', async () => {
    for (const name of ['house.passwords', 'house.access']) {
      expect((await stat(join(scratch, 'etc', name))).mode & 0o777).toBe(0o600)
    }
  })
  test('a contact’s will goes out on its own topic', async () => {
    const { client: user, topic } = registerOf(yaml).openings[1]!
    const keeper = await connect('keeper')
    const got: string[] = []
    keeper.on('message', (_topic, payload) => void got.push(payload.toString()))
    await keeper.subscribeAsync(topic)
    const contact = await mqtt.connectAsync(broker.mqttUrl, {
      username: user,
      password: passwords.get(user)!,
      clientId: user,
      reconnectPeriod: 0,
      will: { topic, payload: Buffer.from('asleep'), qos: 1, retain: true },
    })
    contact.stream.destroy()
    await until('the will', () => got.length > 0)
    await keeper.endAsync(true)
    expect(got).toEqual(['asleep'])
  })

  test('after an opening was added, what the command says to do lets its contact in, and puts nobody off', async () => {
    const keeper = await connect('keeper')
    const got: string[] = []
    keeper.on('message', topic => void got.push(topic))
    await keeper.subscribeAsync('ropewalk/w99', { qos: 1 })
    await expect(connect('ropewalkw99')).rejects.toThrow()
    yaml += '\n  - { mark: W99, name: Skylight, sender: coin }\n'
    const settings = await readFile(join(scratch, 'made/mosquitto.conf'), 'utf8')
    const { stderr } = await emit()
    expect(await readFile(join(scratch, 'made/mosquitto.conf'), 'utf8')).toBe(settings)
    const store = await readFile(join(scratch, 'etc/mosquitto.conf'), 'utf8')
    bringIn(stderr)
    await writeFile(join(scratch, 'etc/mosquitto.conf'), store)
    expect(stderr).toContain('sudo systemctl reload mosquitto')
    broker.reload()
    await until('the new contact', async () => {
      const contact = await connect('ropewalkw99').catch(() => undefined)
      await contact?.publishAsync('ropewalk/w99', 'opened', { qos: 1 })
      await contact?.endAsync()
      return got.includes('ropewalk/w99')
    })
    expect(keeper.connected).toBe(true)
    await keeper.endAsync(true)
  })
})

test('the keeper writes the devices of its own house in its domain, those of earlier marks too, and no other', () => {
  const [first, ...others] = ropewalk().openings.slice(0, 3)
  const writes = (domain: string) =>
    accounts({ ...ropewalk(), openings: [{ ...first!, was: ['Old-1'] }, ...others], homieDomain: domain })
      .find(({ user }) => user === 'keeper')
      ?.writes.filter(topic => topic.includes('/5/'))
  const marks = others.map(({ mark }) => mark)
  expect(writes('annex')).toEqual(
    ['ropewalk-tally', first!.mark, 'Old-1', ...marks].map(id => `annex/5/${id.toLowerCase()}/#`),
  )
})
