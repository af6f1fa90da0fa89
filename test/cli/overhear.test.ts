import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { Contact, contactFacts, wake } from '../../src/cli/begin/contact.ts'
import { cli } from '../../src/cli/cli.ts'
import { startBroker } from '../../src/link/broker.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { registerOf } from '../emit/houses.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

let folder: string
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-overhear-'))
})
afterAll(() => rm(folder, { recursive: true, force: true }))

const HOUSE = registerOf(`house: Ropewalk Studios
timezone: Europe/Lisbon
tally: house/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 2 }
  count: { reports: openings, cell: CR2032, words: { opened: stirred, rest: still }, keepAliveSeconds: 2, json: { word: /say, boots: /boots } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }, keepAliveSeconds: 2 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Loft, sender: count }
  - { mark: D01, name: Yard door, sender: yard }
`)
const HOW = HOUSE.openings.map(({ mark, topic, sender }) => [mark, topic, sender.reports, sender.words]).sort()

/** Contacts open and shut while the command listens; answers what it proposed. */
async function overhearHouse(world: FakeWorld, url: string, more: readonly string[] = [], account = {}) {
  const at = { host: '127.0.0.1', port: Number(new URL(url).port), ...account }
  const [coin, count, yard] = HOUSE.openings.map(opening => contactFacts(opening))
  const contacts: Contact[] = []
  const argv = ['overhear', '--broker', url, '--topic', 'house/#', '--minutes', '1', ...more]
  try {
    const listening = cli(argv, world)
    await until('it to listen', () => world.said.stderr.includes('Listening'))
    contacts.push(await wake(coin!, at), await wake(count!, at))
    const door = await Contact.join(yard!, at)
    contacts.push(door)
    door.stay()
    for (const word of [yard!.closed!, yard!.opened, yard!.closed!]) {
      await door.say(word)
      await pause(900)
    }
    door.drop()
    const back = await Contact.join(yard!, at)
    contacts.push(back)
    back.stay()
    await back.say(yard!.closed!)
    await Promise.all(contacts.slice(0, 2).map(contact => contact.closed))
    await pause(1500)
    world.interrupt()
    return await listening
  } finally {
    for (const contact of contacts) contact.drop()
  }
}
const proposed = (text: string) => {
  const { register, problems } = parseRegister(text)
  expect(problems.filter(({ severity }) => severity === 'error')).toEqual([])
  return register!
}
const howOf = (text: string) =>
  proposed(text)
    .openings.map(({ mark, topic, sender }) => [mark, topic, sender.reports, sender.words])
    .sort()

describe(haveMosquitto.title('overhear'), { skip: haveMosquitto.skip }, () => {
  test('proposes the house that spoke on a real broker that wants an account, into a new file', async () => {
    const accounts = { onlooker: 'look', contact: 'say' }
    const broker = await Mosquitto.start({ accounts })
    try {
      await writeFile(join(folder, 'password'), 'look\n')
      const world = fakeWorld({
        cwd: folder,
        env: { SASHTALLY_USER: 'onlooker', SASHTALLY_PASSWORD_FILE: 'password' },
      })
      const account = { user: 'contact', password: 'say' }
      expect(await overhearHouse(world, broker.mqttUrl, ['--out', 'proposal.yaml'], account)).toBe(0)
      const text = await readFile(join(folder, 'proposal.yaml'), 'utf8')
      expect(howOf(text)).toEqual(HOW)
      expect(text).not.toContain('look')
      for (const { sender } of proposed(text).openings) {
        expect(sender.json?.word).toBe(sender.words.opened === 'stirred' ? '/say' : undefined)
        // 3 s + 6 s at the latest: 2 to 6 s of keep-alive.
        if (sender.reports === 'openings') expect([2, 3, 4, 5, 6]).toContain(sender.keepAliveSeconds)
      }
      const stranger = fakeWorld({ cwd: folder })
      expect(await cli(['overhear', '--broker', broker.mqttUrl, '--topic', '#'], stranger)).toBe(3)
      expect(await readdir(folder)).toEqual(['password', 'proposal.yaml'])
    } finally {
      await broker.close()
    }
  })
})

test('a broker of MQTT 3.1.1 hides what is kept; a fresh subscription shows it', async () => {
  const broker = await startBroker()
  try {
    const world = fakeWorld({ cwd: folder })
    expect(await overhearHouse(world, broker.mqttUrl)).toBe(0)
    expect(howOf(world.said.stdout)).toEqual(HOW)
    // This broker ends a silent connection at 1.5 keep-alives exactly.
    expect(world.said.stdout).toContain('keepAliveSeconds: 2   # may be 1 to 2\n')
  } finally {
    await broker.close()
  }
})

test('nothing heard proposes nothing and writes nothing', async () => {
  const broker = await startBroker()
  try {
    const world = fakeWorld({ cwd: folder })
    const argv = ['overhear', '--broker', broker.mqttUrl, '--topic', '#', '--minutes', '0.005', '--out', 'none.yaml']
    expect(await cli(argv, world)).toBe(1)
    expect(world.said.stderr).toMatch(/0 words on 0 topics.*\n.*nothing is proposed/)
    expect(await readdir(folder)).not.toContain('none.yaml')
  } finally {
    await broker.close()
  }
})

test('wrong use, and a file that is there', async () => {
  expect(await cli(['overhear'], fakeWorld())).toBe(2)
  expect(await cli(['overhear', '--broker', 'here', '--topic', '#'], fakeWorld())).toBe(2)
  for (const filter of ['', 'a/#/b', 'a#', 'a+/b'])
    expect(await cli(['overhear', '--broker', 'mqtt://h', '--topic', filter], fakeWorld())).toBe(2)
  const secret = fakeWorld()
  expect(await cli(['overhear', '--broker', 'mqtt://me:hush@h', '--topic', '#'], secret)).toBe(2)
  expect(secret.said.stderr).not.toContain('hush')
  expect(await cli(['overhear', '--broker', 'mqtt://h', '--topic', '#', '--out', 'README.md'], fakeWorld())).toBe(1)
})
