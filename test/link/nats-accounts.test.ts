import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Account, accounts } from '../../src/emit/broker/access.ts'
import { parseReading } from '../../src/protocol/reading.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { builtCommand } from '../support/built.ts'
import { CONNECTIONS } from '../support/connections.ts'
import { earsOver } from '../support/ear.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveNats, NatsCluster } from '../support/nats.ts'
import { until } from '../support/until.ts'

const registerText = (urls: string) => `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: [${urls}] }
tally: ropewalk/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Rope loft, sender: coin }
`
const all = accounts(parseRegister(registerText("'mqtt://127.0.0.1'")).register!)

/** Topic filters as NATS subjects: `#` holds its parent too (MQTT-4.7.1-2), `>` does not. */
const subjectsOf = (filters: readonly string[]): string[] =>
  filters.flatMap(filter => {
    const subject = filter.replaceAll('/', '.').replaceAll('+', '*').replace(/#$/, '>')
    return subject.endsWith('.>') ? [subject, subject.slice(0, -2)] : [subject]
  })
const listOf = (subjects: readonly string[]): string => `[${subjects.map(subject => `"${subject}"`).join(', ')}]`
/** What may be read at QoS 1 the broker hands over on subjects of its own. */
const userOf = ({ user, reads, writes }: Account): string => {
  const publish = writes.length > 0 ? listOf(subjectsOf(writes)) : '{ deny: ">" }'
  const subscribe = reads.length > 0 ? listOf([...subjectsOf(reads), '$MQTT.sub.>']) : '{ deny: ">" }'
  return `{ user: "${user}", password: "of-${user}", permissions: { publish: ${publish}, subscribe: ${subscribe} } }`
}

/** What `src/manual/cluster.md` says of accounts at nats-server 2.9.10. */
describe(haveNats.title('accounts at a cluster of nats-server'), { skip: haveNats.skip }, () => {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-nats-accounts-'))
  // A wall's own connection, as a browser has it.
  const walls = earsOver(CONNECTIONS[1]!.connect())
  let cluster: NatsCluster
  let command: Awaited<ReturnType<typeof builtCommand>>
  let keeper: KeeperProcess
  const contact = (user: string) =>
    mqtt.connectAsync(cluster.nodes[1]!.url, {
      protocolVersion: 4,
      reconnectPeriod: 0,
      clientId: user,
      username: user,
      password: `of-${user}`,
    })
  const wall = (username: string, password: string, filters: readonly string[]) =>
    walls.ear({ url: cluster.nodes[2]!.websocketUrl, username, password, connectTimeoutSeconds: 30 }, filters)

  beforeAll(async () => {
    cluster = await NatsCluster.start(`authorization { users: [\n${all.map(userOf).join('\n')}\n] }`)
    command = await builtCommand()
    const register = join(folder, 'ropewalk.yaml')
    writeFileSync(register, registerText(cluster.nodes.map(({ url }) => `'${url}'`).join(', ')))
    const passwordFile = join(folder, 'password')
    writeFileSync(passwordFile, 'of-keeper\n', { mode: 0o600 })
    process.env.SASHTALLY_USER = 'keeper'
    process.env.SASHTALLY_PASSWORD_FILE = passwordFile
    keeper = new KeeperProcess(command.path, register, join(folder, 'data'))
    keeper.start()
    await keeper.live()
  })
  afterAll(async () => {
    delete process.env.SASHTALLY_USER
    delete process.env.SASHTALLY_PASSWORD_FILE
    await walls.close()
    await keeper?.kill()
    await cluster?.close()
    command?.remove()
    rmSync(folder, { recursive: true, force: true })
  })

  test('keeper and contact speak with their own, and a wall reads over WebSocket what came of it', async () => {
    const looks = wall('onlooker', 'of-onlooker', ['ropewalk/tally/#'])
    await looks.live()
    const w01 = await contact('ropewalkw01')
    await w01.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    const read = () =>
      looks.heard.some(
        ({ topic, text }) => topic === 'ropewalk/tally/opening/W01' && parseReading(text)?.openings === 1,
      )
    await until('the reading', read, 120)
    w01.end(true)
    expect(keeper.log).not.toMatch(/does not let|nothing comes back|refuse/)
  })

  test('what an account may not is not done, though the broker acknowledges it', async () => {
    const counts = wall('direct', 'of-direct', ['ropewalk/tally/#', 'ropewalk/w01', 'ropewalk/w02'])
    await counts.listening()
    const looks = wall('onlooker', 'of-onlooker', ['ropewalk/tally/#', 'ropewalk/w01'])
    const refusal = await until('the refusal', () => looks.states.find(state => 'filters' in state))
    expect(refusal).toMatchObject({ state: 'refused', filters: ['ropewalk/w01'] })
    await looks.feed.publish('ropewalk/tally/say/W02', '{"v":1,"id":"s1","what":"seen-closed"}')
    const [w01, w02] = await Promise.all(['ropewalkw01', 'ropewalkw02'].map(contact))
    await w01!.publishAsync('ropewalk/w02', 'forbidden', { qos: 1 })
    await w02!.publishAsync('ropewalk/w02', 'opened', { qos: 1 })
    await expect(w01!.subscribeAsync('ropewalk/tally/#', { qos: 1 })).rejects.toThrow('Subscribe error')
    // What is said later by one who may comes after it.
    const hand = wall('hand', 'of-hand', [])
    await hand.live()
    await hand.feed.publish('ropewalk/tally/say/W02', '{"v":1,"id":"s2","what":"seen-closed"}')
    const on = (topic: string) => counts.heard.filter(each => each.topic === topic).map(({ text }) => text)
    await until('both', () => on('ropewalk/tally/heard/s2').length > 0 && on('ropewalk/w02').length > 0, 120)
    expect([on('ropewalk/w02'), on('ropewalk/tally/heard/s1')]).toEqual([['opened'], []])
    w01!.end(true)
    w02!.end(true)
  })

  test('a wrong password is refused as one', async () => {
    const wrong = wall('onlooker', 'wrong', [])
    const refusal = await until('the refusal', () => wrong.states.find(({ state }) => state === 'refused'))
    expect(refusal).toMatchObject({ state: 'refused', account: true })
  })
})
