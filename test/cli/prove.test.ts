import { mkdirSync, writeFileSync } from 'node:fs'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { Contact, contactFacts, wake } from '../../src/cli/begin/contact.ts'
import type { Verdict } from '../../src/cli/bench/prove-seen.ts'
import type { SinceLast } from '../../src/cli/bench/prove-since.ts'
import { cli } from '../../src/cli/cli.ts'
import { type Broker, startBroker } from '../../src/link/broker.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Opening, Register } from '../../src/register/types.ts'
import { registerOf } from '../emit/houses.ts'
import { misfits } from '../support/json-output.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

const houseText = (url: string, parent: string) => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${url}' }
tally: ${parent}/tally
senders:
  coin:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    keepAliveSeconds: 1
    load: [{ milliamps: 75, milliseconds: 400 }]
openings:
  - { mark: W07, name: Binding room, sender: coin, client: ${parent}07 }
  - { mark: W11, name: Attic studio, sender: coin, client: ${parent}11 }
`

/** The questions before power comes on. */
const SAFE = /^(?:Does the lid|Is its cell out)/

interface Session extends Partial<Verdict> {
  readonly exit: number
  readonly kept?: string
  readonly sinceLast?: SinceLast
  readonly stderr: string
  readonly tally: string
}

describe(haveMosquitto.title('prove'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let folder: string
  let houses = 0
  const awake: Contact[] = []
  beforeAll(async () => {
    broker = await Mosquitto.start()
    folder = await mkdtemp(join(tmpdir(), 'sashtally-prove-'))
  })
  afterAll(async () => {
    for (const contact of awake) contact.drop()
    await broker?.close()
    await rm(folder, { recursive: true, force: true })
  })
  const port = () => ({ host: '127.0.0.1', port: broker.mqttPort })

  /** One session at the bench in a house of its own; `open` is what the module does at each key press. */
  async function session(
    open: (opening: Opening, nth: number, register: Register) => Promise<Contact | undefined>,
    ...more: string[]
  ): Promise<Session> {
    const parent = `rw${++houses}`
    const text = houseText(broker.mqttUrl, parent)
    const register = registerOf(text)
    await writeFile(join(folder, `${parent}.yaml`), text)
    let nth = 0
    const world = fakeWorld({
      cwd: folder,
      ask: async question => {
        if (SAFE.test(question)) return 'yes'
        const opening = register.openings[0]!
        void open(opening, ++nth, register).then(
          contact => contact && awake.push(contact),
          () => {},
        )
        return ''
      },
    })
    const exit = await cli(['prove', `${parent}.yaml`, 'W07', '--json', '--tally', `${parent}.jsonl`, ...more], world)
    const tally = await readFile(join(folder, `${parent}.jsonl`), 'utf8').catch(() => '')
    const { stdout, stderr } = world.said
    if (stdout) expect(misfits('prove', stdout)).toEqual([])
    return { exit, stderr, tally, ...(stdout ? JSON.parse(stdout) : {}) }
  }
  const good = (opening: Opening) => wake(contactFacts(opening), { ...port(), joinMilliseconds: 100 })
  const failedChecks = ({ checks = [] }: Session) =>
    checks.filter(({ result }) => result === 'failed').map(({ name }) => name)

  test.concurrent('a good contact is proved, and its words and the result are kept', async () => {
    const pressed: number[] = []
    const result = await session(opening => {
      pressed.push(Date.now())
      return good(opening)
    })
    expect(failedChecks(result)).toEqual([])
    expect(result.checks?.filter(({ result: seen }) => seen === 'passed').map(({ name }) => name)).toEqual([
      'first word',
      'topic',
      'payload',
      'rest word',
      'client id',
      'retained',
      'QoS',
      'quiet',
    ])
    expect(result).toMatchObject({ exit: 0, proved: true, causes: [] })
    const kept = result.tally
      .trim()
      .split('\n')
      .map(line => JSON.parse(line) as Entry)
    expect(kept.map(({ what }) => what)).toEqual(['opened', 'rest', 'opened', 'rest', 'proved'])
    expect(kept.slice(0, -1).map(({ how }) => how)).toEqual(['tested', 'tested', 'tested', 'tested'])
    expect(kept.at(-1)).toMatchObject({ text: 'bench' })
    // Of the first word after each key press, and not of the rest word.
    const joins = result.joinMilliseconds!
    const words = kept.filter(({ what }) => what === 'opened')
    for (const [n, { at }] of words.entries()) expect(pressed[n]! + joins[n]!).toBeLessThanOrEqual(Date.parse(at))
    expect(kept.at(-1)!.joinMilliseconds).toBe(Math.max(...joins))
  })
  test.concurrent('a second proof says what changed since the last', async () => {
    const parent = `rw${houses + 1}`
    const last = { mark: 'W07', at: '2026-05-01T17:00:00.000Z', how: 'live' }
    const lines = [
      { ...last, id: 'a1', what: 'opened', millivolts: 2960 },
      { ...last, id: 'a2', what: 'proved', joinMilliseconds: 90_000 },
    ]
    // At once, so that no other test takes the next house meanwhile.
    writeFileSync(join(folder, `${parent}.jsonl`), lines.map(line => `${JSON.stringify(line)}\n`).join(''))
    const result = await session(good, '--times', '1')
    expect(result).toMatchObject({ exit: 0, sinceLast: { at: last.at, joinMilliseconds: { was: 90_000 } } })
    expect(result.sinceLast?.joinMilliseconds?.now).toBe(result.joinMilliseconds?.[0])
    // A plain word tells no volts.
    expect(result.sinceLast?.millivolts).toBeUndefined()
  })
  test.concurrent('a cell that is still in beside the supply: nothing is opened', async () => {
    await writeFile(join(folder, 'rwcell.yaml'), houseText(broker.mqttUrl, 'rwcell'))
    for (const [answer, asked] of [
      ['no', 1],
      ['', 3],
    ] as const) {
      const questions: string[] = []
      const world = fakeWorld({
        cwd: folder,
        ask: async question => {
          questions.push(question)
          return answer
        },
      })
      expect(await cli(['prove', 'rwcell.yaml', 'W07', '--tally', 'rwcell.jsonl'], world)).toBe(1)
      expect(questions).toEqual(Array.from({ length: asked }, () => expect.stringMatching(/^Is its cell out/)))
      expect(world.said.stderr).toMatch(/the supply charges it/)
      expect(world.said.stdout).toBe('')
    }
    expect(await readFile(join(folder, 'rwcell.jsonl'), 'utf8').catch(() => 'no file')).toBe('no file')
  })
  test.concurrent('what is asked goes by what feeds the contact, not by its edges', async () => {
    const text = houseText(broker.mqttUrl, 'rwfeed').replace(
      'openings:\n',
      `  edges: { reports: both, cell: CR2032, keepAliveSeconds: 1, words: { opened: ajar, closed: shut, gone: lost } }
  pair: { reports: openings, cell: two FR03, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: E01, name: Hatch, sender: edges }
  - { mark: P01, name: Gate, sender: pair }
  - { mark: D01, name: Door, sender: yard }
`,
    )
    await writeFile(join(folder, 'rwfeed.yaml'), text)
    const asked = async (mark: string, ...more: string[]) => {
      const questions: string[] = []
      const world = fakeWorld({
        cwd: folder,
        ask: async question => {
          questions.push(question.slice(0, 12))
          if (SAFE.test(question)) return 'yes'
          world.interrupt()
          return ''
        },
      })
      await cli(['prove', 'rwfeed.yaml', mark, ...more], world)
      return { questions, stderr: world.said.stderr }
    }
    expect((await asked('E01')).questions).toEqual(['Is its cell ', 'Does the lid', '1 of 2: pres'])
    expect((await asked('E01', '--power', 'cell')).questions).toEqual(['Does the lid', '1 of 2: pres'])
    expect((await asked('P01')).questions).toEqual(['Is its cell ', '1 of 2: pres'])
    const door = await asked('D01')
    expect(door.questions).toEqual(['1 of 2: pres'])
    expect(door.stderr).toMatch(/closed, approved supply/)
  })
  test.concurrent('a wrong topic', async () => {
    const result = await session(opening =>
      wake(contactFacts(opening), { ...port(), topic: opening.topic.replace('w07', 'w70') }),
    )
    expect(result.causes?.[0]).toMatch(/publishes to "rw\d+\/w70", the register says "rw\d+\/w07"/)
    expect(result).toMatchObject({ exit: 1, proved: false })
    expect(JSON.parse(result.tally.trim().split('\n').at(-1)!)).toMatchObject({ what: 'failed', text: 'bench' })
  })
  test.concurrent('another contact’s header', async () => {
    const result = await session((_opening, _nth, register) => wake(contactFacts(register.openings[1]!), port()))
    expect(result.causes?.[0]).toMatch(/flashed with the header of W11/)
  })
  test.concurrent('another contact that speaks first: its own word is waited for, and the noise is told', async () => {
    const result = await session(
      async (opening, _nth, register) => {
        awake.push(await wake(contactFacts(register.openings[1]!), port()))
        await pause(2_500)
        return wake(contactFacts(opening), port())
      },
      '--times',
      '1',
    )
    // It came late, and on its own topic.
    expect(failedChecks(result)).toEqual(['first word', 'quiet'])
    expect(result.causes?.join('\n')).toMatch(/W11 spoke meanwhile/)
    expect(result.causes?.join('\n')).not.toMatch(/header/)
  })
  test.concurrent('a twin client id, both awake', async () => {
    const result = await session(
      async (opening, _nth, register) => {
        const contact = await wake(contactFacts(opening), port())
        await pause(200)
        const twin = { ...contactFacts(register.openings[1]!), clientId: opening.client }
        awake.push(await wake(twin, port()))
        return contact
      },
      '--times',
      '1',
    )
    expect(result.causes?.[0]).toMatch(/same client id as W11/)
  })
  test.concurrent('another client id than the register says', async () => {
    const result = await session(opening => wake({ ...contactFacts(opening), clientId: `${opening.client}x` }, port()))
    expect(failedChecks(result)).toEqual(['client id'])
    expect(result.causes?.[0]).toMatch(/its client id is not "rw\d+07"/)
  })
  test.concurrent('a will that is not retained', async () => {
    const result = await session(opening => wake(contactFacts(opening), { ...port(), willRetained: false }))
    expect(result.causes?.[0]).toMatch(/last will is not set to be retained/)
  })
  test.concurrent('a clean DISCONNECT', async () => {
    const result = await session(
      opening => wake(contactFacts(opening), { ...port(), ending: 'disconnect' }),
      '--times',
      '1',
    )
    expect(failedChecks(result)).toEqual(['rest word'])
    expect(result.causes?.[0]).toMatch(/clean DISCONNECT/)
  })
  test.concurrent('a slow join', async () => {
    const result = await session(
      opening => wake(contactFacts(opening), { ...port(), joinMilliseconds: 1200 }),
      '--times',
      '1',
    )
    expect(failedChecks(result)).toEqual(['first word'])
    expect(result.causes?.[0]).toMatch(/slow join/)
  })
  test.concurrent('a brown-out after it connected, on its cell', async () => {
    const result = await session(
      opening => wake(contactFacts(opening), { ...port(), diesBeforeWord: true }),
      '--power',
      'cell',
      '--times',
      '1',
    )
    expect(result.causes?.[0]).toMatch(/draws more than the cell can give/)
    expect(result.stderr).toMatch(/takes 1 opening out of the cell/)
  })
  test.concurrent('a socket closed before sleep', async () => {
    const result = await session(opening => wake(contactFacts(opening), { ...port(), ending: 'drop' }), '--times', '1')
    expect(result.causes?.[0]).toMatch(/closes its socket before it sleeps/)
  })
  test.concurrent('an older word', async () => {
    const result = await session(opening => wake({ ...contactFacts(opening), opened: 'auf' }, port()), '--times', '1')
    expect(failedChecks(result)).toContain('payload')
    expect(result.causes?.[0]).toMatch(/says "auf", the register says "opened"/)
  })
  test.concurrent('nothing at all', async () => {
    const result = await session(async () => undefined)
    expect(result.causes?.[0]).toMatch(/no power/)
    expect(result.exit).toBe(1)
  })
  test('wrong use, and a broker that is not there', async () => {
    await writeFile(join(folder, 'away.yaml'), houseText('mqtt://127.0.0.1:1', 'rwaway'))
    const run = async (...argv: string[]) => cli(['prove', 'away.yaml', ...argv], fakeWorld({ cwd: folder }))
    expect(await run('W99')).toBe(2)
    expect(await run('w07', '--tally', 'no/such/t.jsonl')).toBe(3)
    expect(await run('W07', '--times', '0')).toBe(2)
    expect(await run('W07')).toBe(3)
  })

  /** W07 at its cell, with `ask` run at every key press; nobody answers unless it makes a contact do so. */
  async function atCell(house: string, url: string, ask: () => void, more: Partial<FakeWorld> = {}, ...argv: string[]) {
    await writeFile(join(folder, `${house}.yaml`), houseText(url, house))
    const world = fakeWorld({
      cwd: folder,
      ask: async question => {
        if (SAFE.test(question)) return 'yes'
        ask()
        return ''
      },
      ...more,
    })
    const exit = await cli(['prove', `${house}.yaml`, 'W07', '--times', '1', '--power', 'cell', ...argv], world)
    return { exit, ...world.said }
  }

  test.concurrent('a broker that goes away meanwhile is not the contact’s fault: exit 3, nothing kept', async () => {
    const going = await Mosquitto.start()
    const result = await atCell('rwgone', going.mqttUrl, () => void going.stop(), {}, '--tally', 'rwgone.jsonl')
    await going.close()
    expect(result).toMatchObject({ exit: 3, stdout: '' })
    expect(result.stderr).toMatch(/the link to the broker was lost.*says nothing of the contact/)
    expect(await readFile(join(folder, 'rwgone.jsonl'), 'utf8').catch(() => 'no file')).toBe('no file')
  })
  test.concurrent('a broker that hangs is not the contact’s fault either', async () => {
    const hanging = await Mosquitto.start()
    try {
      const result = await atCell('rwhang', hanging.mqttUrl, () => hanging.freeze(), {}, '--tally', 'rwhang.jsonl')
      expect(result).toMatchObject({ exit: 3, stdout: '' })
      expect(result.stderr).toMatch(/did not answer/)
    } finally {
      await hanging.close()
    }
  })
  test.concurrent('an account to which the broker refuses the topics: said before the first opening, exit 3', async () => {
    const refusing = await startBroker({ authorize: (act, topic) => act === 'publish' || !topic.startsWith('rwno/') })
    let asked = 0
    const result = await atCell('rwno', refusing.mqttUrl, () => void asked++, {}, '--tally', 'rwno.jsonl')
    await refusing.close()
    expect(result).toMatchObject({ exit: 3, stdout: '' })
    expect(result.stderr).toMatch(/does not let this account read rwno\/w07.*the account bench may/)
    expect(asked).toBe(0)
  })
  test.concurrent('an account to which the broker hands nothing, without a word: that cause is named and no death is kept', async () => {
    const silent = await Mosquitto.start({ accounts: { me: 'walrus' }, access: 'user me\ntopic read other/#\n' })
    await writeFile(join(folder, 'password'), 'walrus')
    const env = { SASHTALLY_USER: 'me', SASHTALLY_PASSWORD_FILE: 'password' }
    const result = await atCell('rwmute', silent.mqttUrl, () => {}, { env }, '--tally', 'rwmute.jsonl')
    await silent.close()
    expect(result.exit).toBe(1)
    expect(result.stdout).toMatch(/the account of this command may not read the contacts/)
    expect(result.stdout).toMatch(/kept nowhere: not one word of the house was heard/)
    expect(await readFile(join(folder, 'rwmute.jsonl'), 'utf8').catch(() => 'no file')).toBe('no file')
  })
  test.concurrent('a door is asked to be shut, and is proved by both its edges', async () => {
    const text = houseText(broker.mqttUrl, 'rwdoor').replace(
      'openings:\n',
      '  yard: { reports: both, power: mains, keepAliveSeconds: 2, words: { opened: ajar, closed: shut, gone: lost } }\nopenings:\n  - { mark: D01, name: Yard door, sender: yard, client: rwdoord1 }\n',
    )
    await writeFile(join(folder, 'rwdoor.yaml'), text)
    const door = await Contact.join(contactFacts(registerOf(text).openings[0]!), port())
    door.stay()
    awake.push(door)
    const session = async (isShut: boolean) => {
      const world = fakeWorld({
        cwd: folder,
        ask: async () => {
          void door
            .say('ajar')
            .then(() => pause(300))
            .then(() => (isShut ? door.say('shut') : undefined))
            .catch(() => {})
          return ''
        },
      })
      const exit = await cli(['prove', 'rwdoor.yaml', 'D01', '--json', ...(isShut ? [] : ['--times', '1'])], world)
      expect(misfits('prove', world.said.stdout)).toEqual([])
      return { exit, ...world.said, ...(JSON.parse(world.said.stdout) as Verdict) }
    }
    const bad = await session(false)
    expect(bad).toMatchObject({ exit: 1, proved: false })
    expect(bad.checks.filter(({ result }) => result === 'failed').map(({ name }) => name)).toEqual(['closing'])
    const result = await session(true)
    expect(result.checks.filter(({ result: seen }) => seen === 'failed')).toEqual([])
    expect(result).toMatchObject({ exit: 0, proved: true, stderr: expect.stringMatching(/Shut D01 now/) })
    expect(result.checks.find(({ name }) => name === 'client id')).toMatchObject({ result: 'passed' })
  })
  test.concurrent('a death on its cell is kept where the house is heard', async () => {
    const words = await wake(contactFacts(registerOf(houseText(broker.mqttUrl, 'rwdead')).openings[1]!), port())
    await pause(1700)
    awake.push(words)
    const result = await atCell('rwdead', broker.mqttUrl, () => {}, {}, '--tally', 'rwdead.jsonl')
    expect(result.exit).toBe(1)
    expect(JSON.parse(await readFile(join(folder, 'rwdead.jsonl'), 'utf8'))).toMatchObject({
      mark: 'W07',
      what: 'failed',
    })
  })
  test.concurrent('a tally that cannot be written stops it before the first opening', async () => {
    let asked = 0
    const result = await atCell('rwdisk', broker.mqttUrl, () => void asked++, {}, '--tally', 'no/such/t.jsonl')
    expect(result).toMatchObject({ exit: 3, stdout: '' })
    expect(result.stderr).toMatch(/no\/such\/t\.jsonl cannot be written: there is no such file or folder/)
    expect(asked).toBe(0)
  })
  test.concurrent('the verdict is printed although it can no longer be kept', async () => {
    const result = await atCell(
      'rwlate',
      broker.mqttUrl,
      () => {
        const opening = registerOf(houseText(broker.mqttUrl, 'rwlate')).openings[0]!
        void wake(contactFacts(opening), { ...port(), joinMilliseconds: 100 }).then(contact => awake.push(contact))
        mkdirSync(join(folder, 'rwlate.jsonl'))
      },
      {},
      '--tally',
      'rwlate.jsonl',
    )
    expect(result.exit).toBe(3)
    expect(result.stdout).toMatch(/W07: proved/)
    expect(result.stdout).toMatch(/not kept: rwlate\.jsonl cannot be written: it is a folder/)
  })
})

describe('prove on a broker of MQTT 3.1.1', () => {
  let folder: string
  let broker: Broker
  const awake: Contact[] = []
  beforeAll(async () => {
    broker = await startBroker()
    folder = await mkdtemp(join(tmpdir(), 'sashtally-prove-311-'))
  })
  afterAll(async () => {
    for (const contact of awake) contact.drop()
    await broker.close()
    await rm(folder, { recursive: true, force: true })
  })
  async function session(
    parent: string,
    options: Partial<Parameters<typeof wake>[1]>,
  ): Promise<Verdict & { exit: number }> {
    const text = houseText(broker.mqttUrl, parent)
    await writeFile(join(folder, `${parent}.yaml`), text)
    const opening = registerOf(text).openings[0]!
    const world = fakeWorld({
      cwd: folder,
      ask: async question => {
        if (SAFE.test(question)) return 'yes'
        void wake(contactFacts(opening), { host: '127.0.0.1', port: broker.mqttPort, ...options }).then(
          contact => contact && awake.push(contact),
        )
        return ''
      },
    })
    const exit = await cli(['prove', `${parent}.yaml`, 'W07', '--json'], world)
    return { exit, ...JSON.parse(world.said.stdout) }
  }
  const failed = ({ checks }: Verdict) => checks.filter(({ result }) => result === 'failed').map(({ name }) => name)

  test.concurrent('a good contact is proved: what the broker keeps tells of the retain flag', async () => {
    const result = await session('rwa', {})
    expect(failed(result)).toEqual([])
    expect(result).toMatchObject({ exit: 0, proved: true })
    expect(result.checks.find(({ name }) => name === 'retained')).toMatchObject({
      result: 'passed',
      says: 'a new listener is given "asleep"',
    })
  })
  test.concurrent('a will that is not retained is found by what the broker keeps', async () => {
    const result = await session('rwb', { willRetained: false })
    expect(failed(result)).toEqual(['retained'])
    expect(result.causes[0]).toMatch(/last will is not set to be retained/)
  })
})
