import { execFileSync } from 'node:child_process'
import {
  appendFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { keepHouses } from '../../src/keeper/houses/keep-houses.ts'
import type { KeptHouse } from '../../src/keeper/houses/kept-house.ts'
import { once } from '../../src/keeper/once.ts'
import { verdictOf } from '../../src/keeper/publish/verdict.ts'
import { openTally } from '../../src/keeper/store/read-folder.ts'
import { type Credentials, linksTo } from '../../src/link/node/links.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { needsMount } from '../support/missing.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { registerOf } from './bench-house.ts'

const textOf = (name: string, url: string, { marks = ['W01'], tally = `${name}/tally` } = {}): string => `
house: Ropewalk Studios, ${name}
timezone: Europe/Lisbon
broker: { mqtt: '${url}' }
tally: ${tally}
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings:
${marks.map(mark => `  - { mark: ${mark}, name: Window ${mark}, sender: coin }`).join('\n')}
`
const mayMount = needsMount()

const BROKEN = 'house: [\n'

describe(haveMosquitto.title('a folder of registers'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let folder: string
  let ear: MqttClient
  const retained = new Map<string, string>()
  const registers = (file = '') => join(folder, 'registers', file)
  const data = (name = '') => join(folder, 'data', name)
  const write = (name: string, text: string) => {
    // Whole or not at all, as an editor does it.
    writeFileSync(registers(`.${name}.new`), text)
    renameSync(registers(`.${name}.new`), registers(`${name}.yaml`))
  }
  const good = (name: string, more = {}) => write(name, textOf(name, broker.mqttUrl, more))
  const keeperOf = (name: string) => JSON.parse(retained.get(`${name}/tally/keeper`) ?? '{}').state
  const openingsOf = (name: string) => JSON.parse(retained.get(`${name}/tally/opening/W01`) ?? '{}').openings
  const opens = (name: string) => ear.publishAsync(`${name}/w01`, 'opened', { qos: 1 })

  const running: (() => Promise<void>)[] = []

  beforeEach(async () => {
    broker = await Mosquitto.start({ persistence: 'at-once' })
    folder = mkdtempSync(join(tmpdir(), 'sashtally-houses-'))
    mkdirSync(registers())
    ear = await mqtt.connectAsync(broker.mqttUrl)
    ear.on('message', (topic, payload) => void retained.set(topic, payload.toString()))
    await ear.subscribeAsync('#')
  })
  afterEach(async () => {
    for (const end of running.splice(0)) await end()
    await ear.endAsync()
    retained.clear()
    await broker.close()
    rmSync(folder, { recursive: true, force: true })
  })

  /**
   * Keepers in this process.
   * @param shared - account of houses without one of their own
   * @param ready - of a house by its name, when its account can be read
   */
  function start(shared: Credentials = {}, ready = (_: string): Promise<void> => Promise.resolve()) {
    const stop = new AbortController()
    const told: string[] = []
    let houses: () => readonly KeptHouse[] = () => []
    const done = keepHouses({
      registers: registers(),
      named: 'etc/houses',
      folder: data(),
      links: async (register, name) => {
        await ready(name)
        const file = registers(`${name}.account`)
        const account: Credentials = existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : shared
        const links = linksTo(register.broker.mqtt!, account)
        return { ...links, link: wishes => links.link({ retry: { firstSeconds: 0.2, mostSeconds: 0.5 }, ...wishes }) }
      },
      accountOf: name => `${name}.account`,
      signal: stop.signal,
      tell: (text, code, house) => told.push(`${house ?? '-'} ${code} ${text}`),
      opened: all => {
        houses = all
      },
    })
    const end = async () => {
      stop.abort()
      await done
    }
    running.push(end)
    const has = (pattern: RegExp) => told.some(line => pattern.test(line))
    return {
      told,
      houses: () => houses(),
      heard: (pattern: RegExp) =>
        until(String(pattern), () => has(pattern)).catch(error => {
          throw new Error(`${error.message}; told were:\n${told.join('\n')}`)
        }),
      end,
    }
  }

  test('each house is kept; what is broken, comes, goes or is edited leaves the others alone', async () => {
    good('dye')
    good('rope')
    write('yard', BROKEN)
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    await keepers.heard(/^rope at-work/)
    await keepers.heard(
      /^yard register etc\/houses\/yard\.yaml has \d+ errors?: run `sashtally check etc\/houses\/yard\.yaml`/,
    )
    expect(
      keepers.houses().map(({ name, keeper, trouble }) => [name, keeper !== undefined, trouble?.text ?? '']),
    ).toEqual([
      ['dye', true, ''],
      ['rope', true, ''],
      ['yard', false, expect.stringContaining('yard.yaml')],
    ])

    good('yard')
    await keepers.heard(/^yard at-work/)
    good('loft')
    await keepers.heard(/^loft house-came etc\/houses\/loft\.yaml came/)
    await keepers.heard(/^loft at-work/)
    for (const name of ['dye', 'rope', 'yard', 'loft']) await opens(name)
    for (const name of ['dye', 'rope', 'yard', 'loft']) await until(name, () => openingsOf(name) === 1)

    good('dye', { marks: ['W01', 'W02'] })
    await keepers.heard(/^dye register-read .* 2 openings/)
    write('rope', BROKEN)
    await until('the refusal', () => /problem/.test(retained.get('rope/tally/keeper') ?? ''))
    expect(keeperOf('rope')).toBe('live')

    rmSync(registers('loft.yaml'))
    await keepers.heard(/^loft house-gone/)
    await until('its end', () => keeperOf('loft') === 'gone')
    expect(existsSync(data('loft'))).toBe(true)
    await until(
      'three',
      () =>
        keepers
          .houses()
          .map(({ name }) => name)
          .join() === 'dye,rope,yard',
    )

    await opens('rope')
    await until('its second', () => contactWords('rope') === 2)
    expect(keepers.told.filter(line => /at-work/.test(line))).toHaveLength(4)
    await keepers.end()
    for (const name of ['dye', 'rope', 'yard']) expect([name, keeperOf(name)]).toEqual([name, 'gone'])
    expect(contactWords('rope')).toBe(2)
  })

  test('of two with one tally at one broker the second is refused with both names, until the first moves', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    write('copy', textOf('copy', broker.mqttUrl, { tally: 'dye/tally' }))
    await keepers.heard(
      /^copy clash etc\/houses\/copy\.yaml and etc\/houses\/dye\.yaml both have the tally dye\/tally at 127\.0\.0\.1:\d+/,
    )
    expect(keepers.houses()[1]).toMatchObject({ name: 'dye', trouble: undefined })
    write('copy', textOf('copy', broker.mqttUrl, { tally: 'dye/tally/say' }))
    await keepers.heard(
      /^copy clash etc\/houses\/copy\.yaml has the tally dye\/tally\/say inside the tally dye\/tally of etc\/houses\/dye\.yaml at /,
    )
    good('copy')
    await keepers.heard(/^copy at-work/)
    await keepers.end()
  })

  test('a house that waits for what another has begins when that lets go, or is gone', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    const wants = (name: string, tally: string) => {
      write(name, textOf(name, broker.mqttUrl, { tally }))
      return keepers.heard(new RegExp(`^${name} clash .*; etc/houses/.* came first$`))
    }
    await wants('copy', 'dye/tally')
    await wants('twin', 'dye/tally/say')
    good('dye', { tally: 'vat/tally' })
    await keepers.heard(/^copy at-work/)
    expect(keepers.houses()[0]?.trouble).toBeUndefined()
    expect(keepers.houses()[2]?.trouble?.text).toMatch(/inside the tally dye\/tally of etc\/houses\/copy\.yaml/)
    rmSync(registers('copy.yaml'))
    await keepers.heard(/^twin at-work/)
    await keepers.end()
    const { last } = keepers.houses().find(({ name }) => name === 'dye') ?? {}
    expect([last?.register.tally, last?.readings.size, typeof last?.beatAt]).toEqual(['vat/tally', 1, 'number'])
  })

  test('a client id or topic of another house at the broker is refused with both lines, and an edit so too', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    const named = (more: string) => textOf('rope', broker.mqttUrl).replace('sender: coin }', `sender: coin${more} }`)
    write('rope', named(', client: dyew01'))
    await keepers.heard(
      /^rope clash etc\/houses\/rope\.yaml:8 and etc\/houses\/dye\.yaml:8 both have the client id dyew01 at 127\.0\.0\.1:\d+: /,
    )
    write('rope', named(''))
    await keepers.heard(/^rope at-work/)
    write('rope', named(', topic: dye/w01'))
    await keepers.heard(
      /^rope clash etc\/houses\/rope\.yaml:8 and etc\/houses\/dye\.yaml:8 both have the topic dye\/w01 at .*: the register before it holds$/,
    )
    await until('its state', () => /of another house at this broker/.test(retained.get('rope/tally/keeper') ?? ''))
    expect(retained.get('rope/tally/keeper')).not.toMatch(/dye|127\.0\.0\.1/)
    await opens('rope')
    await until('its word', () => openingsOf('rope') === 1)
    write('rope', named(''))
    await keepers.heard(/^rope register-read /)
    await keepers.end()
  })

  test('an edit that another house stands against is taken up once that house is gone', async () => {
    good('dye')
    good('rope')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    await keepers.heard(/^rope at-work/)
    good('rope', { tally: 'dye/tally/opening' })
    await keepers.heard(
      /^rope clash .* the tally dye\/tally\/opening inside the tally dye\/tally of .*: the register before it holds$/,
    )
    await opens('rope')
    await until('its word', () => openingsOf('rope') === 1)
    const shared = textOf('rope', broker.mqttUrl).replace('sender: coin }', 'sender: coin, topic: dye/w01 }')
    write('rope', shared)
    await keepers.heard(/^rope clash .* both have the topic dye\/w01 at .*: the register before it holds$/)
    rmSync(registers('dye.yaml'))
    await keepers.heard(/^rope register-read/)
    await until('the refusal to go', () => !/before it holds/.test(retained.get('rope/tally/keeper') ?? ''))
    expect(keepers.houses()[0]?.register?.openings[0]?.topic).toBe('dye/w01')
    await keepers.end()
  })

  /** Of several houses that want `tally` one gets it; the others stay at work with their own. */
  async function oneHas(tally: string, { houses, heard }: ReturnType<typeof start>, names: readonly string[]) {
    const of = () => houses().filter(({ name }) => names.includes(name))
    await until('all at work', () => of().every(({ keeper }) => keeper?.vitals().isSettled))
    const taken = of().filter(({ register }) => register?.tally === tally)
    expect(taken.map(({ trouble }) => trouble)).toEqual([undefined])
    for (const { name, register, trouble } of of()) {
      if (name === taken[0]?.name) continue
      expect([name, register?.tally, trouble?.code]).toEqual([name, `${name}/tally`, 'clash'])
      await heard(new RegExp(`^${name} clash .* both have the tally ${tally} at .*: the register before it holds$`))
    }
  }

  test('of two that are edited to one tally at once the second stays as it is; what the first had is free once it ended', async () => {
    const gate = once()
    const names = ['rope', 'vat']
    for (const name of names) good(name)
    // Both have their claims, and what they are about to do does not end before the gate opens.
    const asked: string[] = []
    const keepers = start({}, async name => {
      asked.push(name)
      await gate.when
    })
    await until('both', () => asked.length === 2)
    for (const name of names) good(name, { tally: 'dye/tally' })
    const wants = (name: string) => keepers.houses().find(house => house.name === name)?.register?.tally === 'dye/tally'
    const refused = (name: string) => keepers.told.some(line => line.startsWith(`${name} clash `))
    await until('both edits', () => names.every(name => wants(name) || refused(name)))
    const [first] = names.filter(wants)
    write('late', textOf('late', broker.mqttUrl, { tally: `${first}/tally` }))
    await keepers.heard(new RegExp(`^late clash .* both have the tally ${first}/tally at .* came first$`))
    gate.now()
    await oneHas('dye/tally', keepers, names)
    await keepers.heard(/^late at-work/)
    await keepers.end()
  })

  test('of two at work that wait for one tally with an edit the second stays as it is when that is free', async () => {
    const names = ['rope', 'vat']
    for (const name of ['dye', ...names]) good(name)
    const keepers = start()
    for (const name of ['dye', ...names]) await keepers.heard(new RegExp(`^${name} at-work`))
    for (const name of names) good(name, { tally: 'dye/tally' })
    for (const name of names) await keepers.heard(new RegExp(`^${name} clash`))
    rmSync(registers('dye.yaml'))
    await until('one to have it', () =>
      keepers.houses().some(({ name, register }) => name !== 'dye' && register?.tally === 'dye/tally'),
    )
    await oneHas('dye/tally', keepers, names)
    await keepers.end()
  })

  test('an edit that names another tally begins its keeper anew, with the same store', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    await opens('dye')
    await until('the word', () => openingsOf('dye') === 1)
    good('dye', { tally: 'vat/tally' })
    await until('the old one to end', () => keeperOf('dye') === 'gone')
    await until('the new one', () => keeperOf('vat') === 'live')
    await until('its reading', () => openingsOf('vat') === 1)
    await keepers.end()
  })

  describe('at a broker that wants accounts', () => {
    let guarded: Mosquitto
    const account = (name: string, text: string) => {
      writeFileSync(registers('.new'), text, { mode: 0o600 })
      renameSync(registers('.new'), registers(`${name}.account`))
    }
    const own = (username: string, password: string) => JSON.stringify({ username, password })
    const stateOf = (keepers: ReturnType<typeof start>) => keepers.houses()[0]
    const timesAtWork = ({ told }: ReturnType<typeof start>) =>
      told.filter(line => line.startsWith('dye at-work')).length

    beforeEach(async () => {
      guarded = await Mosquitto.start({ accounts: { 'dye-keeper': 'madder', 'vat-keeper': 'weld' } })
      write('dye', textOf('dye', guarded.mqttUrl))
    })
    afterEach(async () => {
      for (const end of running.splice(0)) await end()
      await guarded.close()
    })

    test('an account that comes after its register, or is changed, begins the keeper anew', async () => {
      const keepers = start()
      await keepers.heard(/^dye account the broker at .* refuses: .*; etc\/houses\/dye\.account is not there$/)
      expect(stateOf(keepers)).toMatchObject({ trouble: { code: 'account' } })
      expect(verdictOf(undefined, stateOf(keepers)?.trouble?.code).text).toBe(
        'not at work: no account of it for the broker was found, or none that can be read',
      )
      account('dye', own('dye-keeper', 'wrong'))
      await keepers.heard(/^dye link-refused the broker at .* refuses: [^;]*; trying on$/)
      await until('its reason', () => stateOf(keepers)?.trouble?.code === 'link-refused')
      expect(verdictOf(undefined, stateOf(keepers)?.trouble?.code).text).toMatch(
        /^not at work: the broker does not let it in/,
      )
      account('dye', own('dye-keeper', 'madder'))
      await keepers.heard(/^dye at-work/)
      expect(stateOf(keepers)?.trouble).toBeUndefined()
      account('dye', own('vat-keeper', 'weld'))
      await until('the other account', () => /'?vat-keeper'?/.test(guarded.log))
      await until('a keeper', () => stateOf(keepers)?.keeper?.vitals().isSettled)
    })

    test('a house without an account of its own says that the one of all houses was refused', async () => {
      const keepers = start({ username: 'keeper', password: 'woad' })
      await keepers.heard(
        /^dye link-refused the broker at .* refuses: .*; etc\/houses\/dye\.account is not there, and the account of all houses was tried$/,
      )
      expect(verdictOf(undefined, stateOf(keepers)?.trouble?.code).text).toMatch(/the broker does not let it in/)
    })

    test('a keeper at work goes on with its account where the file cannot be used', async () => {
      account('dye', own('dye-keeper', 'madder'))
      const keepers = start()
      await keepers.heard(/^dye at-work/)
      const { keeper } = stateOf(keepers) ?? {}
      account('dye', 'nothing of an account')
      await keepers.heard(/^dye account etc\/houses\/dye\.account .*; the account before it holds$/)
      expect(stateOf(keepers)?.keeper).toBe(keeper)
      writeFileSync(registers('dye.account'), Buffer.of(0x77, 0xff))
      await keepers.heard(/^dye account etc\/houses\/dye\.account is not UTF-8 text; the account before it holds$/)
      expect(stateOf(keepers)?.keeper).toBe(keeper)
      expect(keepers.told.filter(line => /gone|begins anew/.test(line))).toEqual([])
    })

    test('a keeper at work ends for another account only when the broker lets that in', async () => {
      account('dye', own('dye-keeper', 'madder'))
      const keepers = start()
      await keepers.heard(/^dye at-work/)
      const { keeper } = stateOf(keepers) ?? {}
      account('dye', own('dye-keeper', 'alizarin'))
      await keepers.heard(
        /^dye account etc\/houses\/dye\.account came or was edited; the broker at .* refuses: .*; the account before it holds$/,
      )
      expect([stateOf(keepers)?.keeper === keeper, keeper?.vitals().isSettled]).toEqual([true, true])
      await guarded.allow({ 'dye-keeper': 'alizarin' })
      await keepers.heard(/^dye account-read etc\/houses\/dye\.account came or was edited: the keeper begins anew$/)
      await until('the next keeper', () => timesAtWork(keepers) === 2)
    })

    test('an edit that another house stands against takes a house that waits for its account nothing', async () => {
      write('vat', textOf('vat', guarded.mqttUrl))
      account('dye', own('dye-keeper', 'madder'))
      account('vat', own('vat-keeper', 'wrong'))
      const keepers = start()
      await keepers.heard(/^dye at-work/)
      await keepers.heard(/^vat link-refused/)
      write('vat', textOf('vat', guarded.mqttUrl, { tally: 'dye/tally' }))
      await keepers.heard(/^vat clash .* both have the tally dye\/tally at .*: the register before it holds$/)
      account('vat', own('vat-keeper', 'weld'))
      await keepers.heard(/^vat at-work/)
      expect(keepers.houses()[1]?.register?.tally).toBe('vat/tally')
    })
  })

  test('a house that is taken away is said to be gone, and no more, in the log and at the broker', async () => {
    good('dye')
    write('rope', textOf('rope', broker.mqttUrl))
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    await keepers.heard(/^rope at-work/)
    write('rope', BROKEN)
    await until('the problem', () => /problem/.test(retained.get('rope/tally/keeper') ?? ''))
    const before = keepers.told.length
    rmSync(registers('dye.yaml'))
    rmSync(registers('rope.yaml'))
    for (const name of ['dye', 'rope']) await keepers.heard(new RegExp(`^${name} house-gone`))
    for (const name of ['dye', 'rope']) await until(`the end of ${name}`, () => keeperOf(name) === 'gone')
    expect(keepers.told.slice(before).filter(line => !/ house-gone /.test(line))).toEqual([])
    for (const name of ['dye', 'rope'])
      expect([name, retained.get(`${name}/tally/keeper`)]).toEqual([name, expect.not.stringContaining('problem')])
  })

  test('a link that leads nowhere is told as a register that cannot be read', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    symlinkSync(registers('nothing'), registers('rope.yaml'))
    await keepers.heard(/^rope register etc\/houses\/rope\.yaml cannot be read/)
  })

  test('a folder that is no more is told, and what was there is kept on', async () => {
    good('dye')
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    renameSync(registers(), `${registers()}.away`)
    await keepers.heard(/^- houses etc\/houses cannot be read/)
    await opens('dye')
    await until('the word', () => openingsOf('dye') === 1)
    await keepers.end()
  })

  test('a broker that is lost stops its own house alone, and it comes back by itself', async () => {
    const other = await Mosquitto.start({ persistence: 'at-once' })
    good('dye')
    write('rope', textOf('rope', other.mqttUrl))
    const keepers = start()
    await keepers.heard(/^dye at-work/)
    await keepers.heard(/^rope at-work/)
    await other.stop()
    await keepers.heard(/^rope link-down/)
    await opens('dye')
    await until('the word', () => openingsOf('dye') === 1)
    await other.start()
    await keepers.heard(/^rope link-up/)
    await keepers.end()
    await other.close()
  })

  /** A disk of its own, of a megabyte. */
  function smallDisk(at: string): () => void {
    mkdirSync(at, { recursive: true })
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'none', at])
    return () => execFileSync('umount', ['--lazy', at])
  }

  test(mayMount.title('a disk that is full stops its own house alone, and nothing is lost when there is room again'), {
    skip: mayMount.skip,
  }, async () => {
    const unmount = smallDisk(data('rope'))
    good('dye')
    good('rope')
    const keepers = start()
    try {
      await keepers.heard(/^dye at-work/)
      await keepers.heard(/^rope at-work/)
      const filler = join(data('rope'), 'filler')
      for (let size = 65_536; size >= 1; size = Math.floor(size / 2)) fill(filler, size)
      await Promise.all([opens('dye'), opens('rope')])
      await until('the one', () => openingsOf('dye') === 1)
      await keepers.heard(/^rope (not-kept|store|disk) .*full/)
      const waits = opens('rope')
      rmSync(filler)
      await waits
      await until('the other, both words', () => contactWords('rope') === 2)
      expect(contactWords('dye')).toBe(1)
    } finally {
      await keepers.end()
      unmount()
    }
  })

  function contactWords(name: string): number {
    const tally = openTally(data(name), registerOf(textOf(name, broker.mqttUrl)))
    const words = [...tally.entries()].filter(({ what, how }) => what === 'opened' && how !== 'retained')
    void tally.close()
    return words.length
  }

  describe('as a process', () => {
    let command: Awaited<ReturnType<typeof builtCommand>>
    let keepers: KeeperProcess
    beforeAll(async () => {
      command = await builtCommand()
    })
    afterAll(() => command.remove())
    afterEach(() => keepers.kill())

    test('killed and begun again it has every word; a signal ends all houses in order', async () => {
      const names = ['dye', 'rope', 'yard']
      for (const name of names) good(name)
      keepers = new KeeperProcess(command.path, `--houses=${registers()}`, data())
      const atWork = () =>
        until('all houses', () => names.every(name => keepers.log.includes(`${name}: keeping 1 openings`)))
      keepers.start()
      await atWork()
      for (let n = 0; n < 3; n++) {
        const words = Promise.all(names.flatMap(name => Array.from({ length: 20 }, () => opens(name))))
        await keepers.kill('SIGKILL')
        await words
        keepers.start()
        await atWork()
      }
      for (const name of names) await until(`all of ${name}`, () => contactWords(name) >= 60)
      await keepers.kill('SIGTERM')
      for (const name of names) {
        await until(`the end of ${name}`, () => keeperOf(name) === 'gone')
        expect([name, contactWords(name)]).toEqual([name, 60])
      }
      expect(keepers.log).not.toMatch(/ended|error/i)
    })
  })
})

/** Writes as much as the disk takes. */
function fill(file: string, size: number): void {
  try {
    for (;;) appendFileSync(file, Buffer.alloc(size))
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error
  }
}
