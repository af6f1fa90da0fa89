import { spawnSync } from 'node:child_process'
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { request as plainRequest } from 'node:http'
import { request } from 'node:https'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
// An independent reader of RFC 5545.
import ICAL from 'ical.js'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { linkTo } from '../../src/cli/broker/link.ts'
import { cli } from '../../src/cli/cli.ts'
import { isPassword, mayDo, parsePasswordFile } from '../../src/cli/tally/password-file.ts'
import type { LinkState } from '../../src/protocol/feed.ts'
import { HOUSE, registerOf } from '../keeper/bench-house.ts'
import { haveMosquitto } from '../support/mosquitto.ts'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-serve-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

// 7 rounds, salt "salt", of the password "walrus": made with Python's hashlib.pbkdf2_hmac('sha512', …, 7, 64).
const WALRUS = '$7$7$c2FsdA==$lH3/pq9mD0RKjyi9E9OpPCh07AgrkkekIKzaJNSBq7UPx0n0YeBga929RpxOUJ7kTXbBVeEooYEQ4jFbezlkqA=='

async function house(tls = false): Promise<{ register: string; mqttPort: number; websocketPort: number }> {
  const [mqttPort, websocketPort] = [await freePort(), await freePort()]
  const register = join(folder, 'house.yaml')
  const [mqtt, ws] = tls ? ['mqtts', 'wss'] : ['mqtt', 'ws']
  writeFileSync(
    register,
    HOUSE.replace(
      "mqtt: 'mqtt://broker.lan:1883'",
      `mqtt: '${mqtt}://127.0.0.1:${mqttPort}', websocket: '${ws}://127.0.0.1:${websocketPort}'`,
    ),
  )
  return { register, mqttPort, websocketPort }
}

/** Serves until `work` is done; answers what was said. */
async function serving(argv: string[], work: (page: string) => Promise<void>): Promise<string> {
  const world = fakeWorld()
  const done = cli(['serve', ...argv, '--data', join(folder, 'data'), '--port', '0'], world)
  try {
    const page = await until('the page', () => {
      if (world.said.stderr) throw new Error(world.said.stderr)
      return /keeping 4 openings/.test(world.said.stdout) && /the wall: (\S+)/.exec(world.said.stdout)?.[1]
    })
    await work(page)
  } finally {
    world.interrupt()
    expect(await done).toBe(0)
  }
  return world.said.stdout
}

const events = (text: string) =>
  new ICAL.Component(ICAL.parse(text)).getAllSubcomponents('vevent').map(each => new ICAL.Event(each))

const refused = async (...argv: string[]) => {
  const world = fakeWorld()
  return { exit: await cli(['serve', ...argv], world), err: world.said.stderr }
}

describe('keeper, page and broker in one process', () => {
  it('show a wall that knows nothing but the tally, under a strict policy', async () => {
    const { register, websocketPort } = await house()
    const told = await serving([register, '--broker', '--may-say'], async page => {
      const wall = await fetch(page)
      const text = await wall.text()
      expect(text).toContain(`<sash-tally broker="ws://127.0.0.1:${websocketPort}" tally="ropewalk/tally" may-say>`)
      expect(text).not.toMatch(/ropewalk\/w01/)
      expect(await (await fetch(page, { headers: { 'accept-language': 'de' } })).text()).toContain('<html lang="de">')
      expect(wall.headers.get('content-security-policy')).toMatch(/default-src 'none'; script-src 'self'/)
      for (const path of ['house.yaml', 'data/tally.sqlite', '..%2fhouse.yaml', 'sash-tally.js/', '.', '%00']) {
        expect([path, (await fetch(page + path)).status]).toEqual([path, path === '.' ? 200 : 404])
      }
      expect((await fetch(`${page}sash-tally.js`)).headers.get('content-type')).toMatch(/javascript/)
      const heard = new Map<string, string>()
      const wallLink = linkTo(`ws://127.0.0.1:${websocketPort}`, {})
      wallLink.listen(['ropewalk/tally/#'])
      wallLink.open({
        heard: ({ topic, payload }) => void heard.set(topic, new TextDecoder().decode(payload)),
        link: () => {},
      })
      await until('a reading', () => heard.get('ropewalk/tally/opening/W01'))
      await wallLink.publish('ropewalk/w01', 'opened')
      await until('its word', () => heard.get('ropewalk/tally/plain/W01') === 'may-be-open')
      await wallLink.close()
    })
    expect(told).toMatch(/it forgets everything when it ends, so take one that keeps its sessions/)
    expect(told).not.toMatch(/caution/)
  })

  it('give the calendar of the cells that are due, and no event where nothing is known', async () => {
    const { register, mqttPort } = await house()
    await serving([register, '--broker'], async page => {
      const ask = (headers: Record<string, string> = {}) => fetch(`${page}cells.ics`, { headers })
      const first = await ask()
      expect([first.status, first.headers.get('content-type')]).toEqual([200, 'text/calendar; charset=utf-8'])
      expect(events(await first.text())).toEqual([])
      const contact = linkTo(`mqtt://127.0.0.1:${mqttPort}`, {})
      contact.open({ heard: () => {}, link: () => {} })
      const spent = { v: 1, id: 's1', what: 'failed', note: 'no word' }
      await until('the link', () =>
        contact.publish('ropewalk/w02', 'opened').then(
          () => true,
          () => false,
        ),
      )
      await contact.publish('ropewalk/tally/say/W02', JSON.stringify(spent))
      const text = await until('the event', async () => {
        const body = await (await ask()).text()
        return events(body).length > 0 && body
      })
      await contact.close()
      expect(events(text).map(({ summary }) => summary)).toEqual(['Change the cell of W02 Loft (CR2032)'])
      const tag = (await ask()).headers.get('etag')!
      const again = await ask({ 'if-none-match': tag })
      expect([again.status, await again.text()]).toEqual([304, ''])
      const stranger = await new Promise<number | undefined>(done =>
        plainRequest(`${page}cells.ics`, { headers: { host: 'evil.example' } }, ({ statusCode }) =>
          done(statusCode),
        ).end(),
      )
      expect(stranger).toBe(421)
    })
  })

  it('refuse to open the house to the network without accounts', async () => {
    const { register } = await house()
    const open = [register, '--data', folder, '--host', '0.0.0.0']
    expect(await refused(...open, '--broker')).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/opens the broker to the network: give its accounts with --accounts FILE/),
    })
    expect(await refused(...open)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/give the broker accounts .* name yours in SASHTALLY_USER/),
    })
    expect(await refused(register, '--data', folder, '--host', 'house.lan')).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/--host wants an address such as 0\.0\.0\.0; found "house\.lan"/),
    })
    expect(await refused(register, '--data', folder, '--port', '99999')).toMatchObject({ exit: 2 })
    expect(await refused(register, '--data', folder, '--tls-cert', 'x')).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/together/),
    })
    expect(await refused(register)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/give --data <dir>: folder of the tally/),
    })
  })

  it('open to the network with accounts, a warning, and each account’s own rights', async () => {
    const { register, mqttPort } = await house()
    const accounts = join(folder, 'accounts')
    writeFileSync(accounts, `onlooker:${WALRUS}\nropewalkw01:${WALRUS}\n`)
    chmodSync(accounts, 0o600)
    const told = await serving([register, '--broker', '--host', '0.0.0.0', '--accounts', accounts], async () => {
      const url = `mqtt://127.0.0.1:${mqttPort}`
      const stateOf = async (username?: string, password?: string): Promise<LinkState> => {
        const states: LinkState[] = []
        const link = linkTo(url, username === undefined ? {} : { username, password: password ?? '' })
        link.open({ heard: () => {}, link: state => states.push(state) })
        const last = await until('an answer', () => states.find(({ state }) => state === 'live' || state === 'refused'))
        await link.close()
        return last
      }
      expect((await stateOf()).state).toBe('refused')
      expect((await stateOf('onlooker', 'tusk')).state).toBe('refused')
      expect((await stateOf('keeper', '')).state).toBe('refused')
      expect((await stateOf('onlooker', 'walrus')).state).toBe('live')
      const heard: string[] = []
      const wall = linkTo(url, { username: 'onlooker', password: 'walrus' })
      wall.listen(['ropewalk/tally/opening/W01'])
      wall.open({ heard: ({ payload }) => void heard.push(new TextDecoder().decode(payload)), link: () => {} })
      const contact = linkTo(url, { username: 'ropewalkw01', password: 'walrus' })
      let isUp = false
      contact.open({ heard: () => {}, link: ({ state }) => (isUp = state === 'live') })
      await until('the contact', () => isUp)
      await contact.publish('ropewalk/w01', 'opened')
      await until('its reading', () => heard.some(text => text.includes('"position":"open"')))
      await wall.close()
      await contact.close()
    })
    expect(told).toMatch(
      /caution: 0\.0\.0\.0 is open to the network\. A wall that lists open windows is a burglar's list/,
    )
  })

  it('speak TLS from files', async () => {
    const { register, websocketPort } = await house(true)
    const [cert, key] = ['cert', 'key'].map(name => join(import.meta.dirname, `../support/tls/${name}.pem`))
    await serving([register, '--broker', '--tls-cert', cert!, '--tls-key', key!], async page => {
      expect(page).toMatch(/^https:/)
      const text = await new Promise<string>((done, failed) => {
        request(page, { ca: readFileSync(cert!), checkServerIdentity: () => undefined }, response => {
          let body = ''
          response.on('data', part => {
            body += part
          })
          response.on('end', () => done(body))
        })
          .on('error', failed)
          .end()
      })
      expect(text).toContain(`wss://127.0.0.1:${websocketPort}`)
    })
  })

  it('say which port is taken', async () => {
    const { register, mqttPort } = await house()
    const { createServer } = await import('node:net')
    const other = createServer().listen(mqttPort, '127.0.0.1')
    await until('the port', () => other.listening)
    expect(await refused(register, '--data', folder, '--broker', '--port', '0')).toMatchObject({
      exit: 3,
      err: expect.stringMatching(`port ${mqttPort} is taken`),
    })
    other.close()
  })
})

describe('the accounts file', () => {
  it('is read by the hashes of the broker’s own tool', { skip: haveMosquitto.skip }, () => {
    const file = join(folder, 'passwords')
    writeFileSync(file, 'onlooker:walrus\nhand:tusk, $ and +/\n')
    expect(spawnSync('mosquitto_passwd', ['-U', file]).status).toBe(0)
    const accounts = parsePasswordFile(readFileSync(file, 'utf8'))
    expect(isPassword(accounts.get('onlooker')!, 'walrus')).toBe(true)
    expect(isPassword(accounts.get('onlooker')!, 'walru')).toBe(false)
    expect(isPassword(accounts.get('hand')!, 'tusk, $ and +/')).toBe(true)
  })

  it('is refused where a password stands in it', () => {
    expect(() => parsePasswordFile(`a:${WALRUS}\nonlooker:walrus\n`)).toThrow(
      /line 2 is no account with a hashed password/,
    )
  })

  it('gives each account what the access list of the register gives it', () => {
    const may = mayDo(registerOf())
    const cases: [Parameters<typeof may>, boolean][] = [
      [['subscribe', 'ropewalk/tally/#', 'onlooker'], true],
      [['subscribe', 'ropewalk/tally/opening/+', 'onlooker'], true],
      [['subscribe', 'ropewalk/tally', 'onlooker'], true],
      [['subscribe', 'ropewalk/#', 'onlooker'], false],
      [['subscribe', '#', 'onlooker'], false],
      [['subscribe', 'ropewalk/w01', 'onlooker'], false],
      [['subscribe', 'ropewalk/w01', 'direct'], true],
      [['publish', 'ropewalk/tally/say/W01', 'onlooker'], false],
      [['publish', 'ropewalk/tally/say/W01', 'hand'], true],
      [['publish', 'ropewalk/tally/say/W01/x', 'hand'], false],
      [['publish', 'ropewalk/tally/opening/W01', 'hand'], false],
      [['publish', 'ropewalk/tally/opening/W01', 'keeper'], true],
      [['publish', 'ropewalk/w01', 'keeper'], true],
      [['subscribe', 'ropewalk/w01', 'bench'], true],
      [['publish', 'ropewalk/w01', 'bench'], false],
      [['publish', 'ropewalk/tally/say/W01', 'bench'], true],
      [['publish', 'ropewalk/w01', 'ropewalkw02'], false],
      [['publish', 'ropewalk/w02', undefined], false],
    ]
    for (const [given, wanted] of cases) expect([given, may(...given)]).toEqual([given, wanted])
    const own = registerOf().openings[0]!
    expect(may('publish', own.topic, own.client)).toBe(true)
    expect(may('publish', registerOf().openings[1]!.topic, own.client)).toBe(false)
  })
})
