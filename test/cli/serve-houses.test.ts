import { chmodSync } from 'node:fs'
import { join } from 'node:path'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import type { Plate } from '../../src/cli/houses/plate.ts'
import type { HousesNote } from '../../src/cli/houses/plates.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { Studios } from '../support/studios.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

const refused = async (...argv: string[]) => {
  const world = fakeWorld()
  return { exit: await cli(['serve', ...argv], world), err: world.said.stderr }
}

test.each([
  [['--data', 'd'], /serve wants one of the two: a register, or --houses/],
  [['house.yaml', '--houses', 'r', '--data', 'd'], /serve wants one of the two/],
  [['--houses', 'r', '--data', 'd', '--broker'], /--broker is for trying one house out/],
  [['--houses', 'r', '--data', 'd', '--begin-anew'], /--begin-anew is for one house/],
  [['--houses', 'r', '--data', 'd', '--tls-cert', 'c.pem'], /--tls-cert and --tls-key together/],
])('serve %j is wrong use', async (argv, why) => {
  const { exit, err } = await refused(...argv)
  expect([exit, err]).toEqual([2, expect.stringMatching(why)])
})

describe(haveMosquitto.title('the page of houses'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let studios: Studios
  let contacts: MqttClient
  let serving: Awaited<ReturnType<Studios['serve']>> | undefined

  beforeEach(async () => {
    broker = await Mosquitto.start({ persistence: 'at-once' })
    studios = new Studios(broker)
    contacts = await mqtt.connectAsync(broker.mqttUrl)
  })
  afterEach(async () => {
    expect(await serving?.end()).toBe(serving && 0)
    serving = undefined
    await contacts.endAsync(true)
    await broker.close()
    studios.remove()
  })

  const start = async (...more: string[]) => {
    serving = await studios.serve(...more)
    return serving.page
  }
  const note = async (page: string, lang = 'en'): Promise<HousesNote> =>
    (await fetch(`${page}houses.json`, { headers: { 'accept-language': lang } })).json()
  /** Waits until the plate of a house is as `isSo` wants. */
  const plate = (page: string, name: string, isSo: (plate: Plate) => boolean): Promise<Plate> => {
    let last: HousesNote | undefined
    return until(name, async () => {
      last = await note(page)
      return last.plates.find(each => each.name === name && isSo(each))
    }).catch(error => {
      throw new Error(`${error.message}: ${JSON.stringify(last)}`)
    })
  }
  const live = (page: string, ...names: string[]) =>
    Promise.all(names.map(name => plate(page, name, ({ isHeard }) => isHeard)))
  const says = (topic: string, word: string) => contacts.publishAsync(topic, word, { qos: 1, retain: true })

  test('tells of each house in the words of its wall, of a broken register alone, and of what comes and goes', async () => {
    studios.house('dye', { marks: ['W01'] })
    studios.house('rope')
    studios.write('yard.yaml', 'house: [\n')
    const page = await start('--may-say')
    await live(page, 'dye', 'rope')
    await says('dye/d01', 'ajar')
    await says('rope/d01', 'shut')
    await plate(page, 'dye', ({ headline }) => headline === '1 may be open · 1 not certain')
    const rope = await plate(page, 'rope', ({ headline }) => headline === 'All shut')
    expect(rope).toMatchObject({ keeper: 'Keeper live', tone: 'shut', headlineLost: 'None heard open when last live' })
    const yard = await plate(page, 'yard', ({ problem }) => /list/.test(problem))
    expect(yard).toMatchObject({
      isHeard: false,
      hasWall: false,
      headline: 'Nothing known',
      keeper: 'Keeper not heard yet.',
    })
    expect(yard.problem).toBe('The list of windows has errors or cannot be read.')
    const told = await note(page)
    expect(told.plates.map(({ name }) => name)).toEqual(['dye', 'rope', 'yard'])
    expect(told.summary).toBe('In 1 house something may be open: dye. 1 house has no live keeper: yard.')
    expect((await note(page, 'de')).summary).toBe(
      'In 1 Haus ist vielleicht etwas offen: dye. 1 Haus ohne Zähldienst: yard.',
    )

    studios.house('yard')
    await live(page, 'yard')
    await says('yard/d01', 'shut')
    await says('dye/d01', 'shut')
    studios.take('dye.yaml')
    await until('the end of dye', async () => (await note(page)).plates.length === 2)
    await plate(page, 'yard', ({ headline }) => headline === 'All shut')
    expect((await note(page)).summary).toMatch(/^All shut, in all 2 houses\. Kept no more: dye since .*\d\d:\d\d\.$/)
  })

  test('serves a wall below the name of each house there is, and nothing of the disk', async () => {
    studios.house('dye house & <loft>', { tally: 'dye/tally' })
    studios.house('mute', { websocket: '' })
    const page = await start()
    const path = `${encodeURIComponent('dye house & <loft>')}/`
    const dye = await plate(page, 'dye house & <loft>', ({ hasWall }) => hasWall)
    const wall = await (await fetch(page + path)).text()
    expect(wall).toContain(`<sash-tally broker="${broker.websocketUrl}" tally="dye/tally">`)
    expect(dye.title).toBe('Ropewalk Studios, dye house & <loft>')
    for (const [, file = ''] of wall.matchAll(/(?:src|href)="([^"]+)"/g)) {
      const { status } = await fetch(new URL(file, page + path))
      expect([file, status]).toEqual([file, 200])
    }
    const german = async (path: string) => (await fetch(page + path, { headers: { 'accept-language': 'de' } })).text()
    expect(await german(path)).toMatch(/<nav><a href="\.\.\/"><span aria-hidden="true">←<\/span> Häuser<\/a><\/nav>/)
    // A wall on a home screen and the page around are one application: the way back stays in it.
    expect(JSON.parse(await german(`${path}manifest.webmanifest`))).toMatchObject({ start_url: './', scope: '../' })
    expect(JSON.parse(await german('manifest.webmanifest'))).toMatchObject({ name: 'Häuser', scope: './' })
    studios.take('mute.yaml')
    await until('the end of mute', async () => (await note(page)).plates.length === 1)
    expect(await german(path)).not.toMatch(/<nav>/)
    studios.house('mute', { websocket: '' })
    const html = await (await fetch(page)).text()
    expect(html).toContain(`<a href="${path}">Ropewalk Studios, dye house &amp; &lt;loft&gt;</a>`)
    expect(html).not.toMatch(/All shut|<loft>/)
    const mute = await plate(page, 'mute', ({ isHeard }) => isHeard)
    expect([mute.hasWall, mute.problem]).toEqual([false, expect.stringContaining('names no WebSocket address')])
    // RFC 3986, section 6.2.2.2: an escape that was not needed is the same address.
    expect((await fetch(page + path.replace('d', '%64'))).status).toBe(200)
    for (const wrong of [
      'mute/',
      'rope/',
      'dye%20house/',
      'mute.yaml',
      '..%2fdata/',
      '%252e%252e/',
      'constructor/',
      '%ff/',
    ])
      expect([wrong, (await fetch(page + wrong)).status]).toEqual([wrong, 404])
  })

  test('a broken file of the same name hides no house that is kept', async () => {
    studios.house('dye')
    const page = await start()
    await live(page, 'dye')
    studios.write('dye.yml', 'house: [\n')
    studios.write('yard.yml', 'house: [\n')
    // What came with it is there.
    await plate(page, 'yard', ({ problem }) => /list/.test(problem))
    const { plates } = await note(page)
    expect(plates.map(({ name, isHeard, problem }) => [name, isHeard, problem])).toEqual([
      ['dye', true, ''],
      ['yard', false, 'The list of windows has errors or cannot be read.'],
    ])
    expect(await (await fetch(`${page}healthz`)).text()).toMatch(/^dye: at work: .*\nyard: not at work: .*\n$/)
  })

  test('a house whose broker is lost is never shown as fresh, and its keeper is last heard', async () => {
    studios.house('rope')
    const page = await start()
    await live(page, 'rope')
    await says('rope/d01', 'shut')
    await plate(page, 'rope', ({ headline }) => headline === 'All shut')
    await broker.stop('SIGKILL')
    const lost = await plate(page, 'rope', ({ isHeard }) => !isHeard)
    expect(lost).toMatchObject({ tone: 'doubt', headline: 'None heard open when last live' })
    expect(lost.keeper).toMatch(/^Keeper last heard \d\d:\d\d\.$/)
    expect(lost.problem).toMatch(/^The broker is not reached/)
    expect((await note(page)).summary).toBe('1 house has no live keeper: rope.')
    await broker.start()
    await live(page, 'rope')
  })

  test('a broker that falls silent with its links open is noticed by the keep-alive of these links', async () => {
    studios.house('rope')
    const page = await start()
    await live(page, 'rope')
    await says('rope/d01', 'shut')
    await plate(page, 'rope', ({ headline }) => headline === 'All shut')
    broker.freeze()
    await plate(page, 'rope', ({ headline }) => headline === 'None heard open when last live')
    expect(serving?.world.said.stdout).toMatch(
      /rope: the link is down: the broker was silent for 15 s, and did not answer/,
    )
    broker.thaw()
    await live(page, 'rope')
  })

  test('an edit that breaks a register, or clashes, is told on the plate, and the older one holds', async () => {
    studios.house('dye')
    studios.house('rope')
    const page = await start()
    await live(page, 'dye', 'rope')
    const keeperIs = (what: string) => plate(page, 'rope', ({ keeper }) => keeper === what)
    studios.write('rope.yaml', 'house: [\n')
    await keeperIs('Keeper live, by its older list: the newer one has errors or cannot be read')
    expect((await note(page, 'de')).plates[1]?.keeper).toMatch(/mit der älteren Liste: die neuere hat Fehler/)
    expect(await (await fetch(`${page}healthz`)).text()).toMatch(
      /^rope: at work by its older register: its register has errors or cannot be read$/m,
    )
    studios.house('rope', { tally: 'dye/tally' })
    await keeperIs('Keeper live, by its older list: the newer one uses a name that another house has already')
    studios.house('rope')
    await keeperIs('Keeper live')
  })

  test('health and figures are told of each house, and no password anywhere', async () => {
    studios.house('dye', { marks: ['W01'] })
    studios.house('rope')
    studios.write('rope.account', 'rope-keeper\nhemp-and-tar\n')
    const page = await start()
    await live(page, 'dye', 'rope')
    const health = await fetch(`${page}healthz`)
    expect([health.status, await health.text()]).toEqual([
      200,
      expect.stringMatching(/^dye: at work: .*\nrope: at work: .*\n$/),
    ])
    const metrics = await (await fetch(`${page}metrics`)).text()
    expect(metrics).toContain('sashtally_at_work{house="dye"} 1\nsashtally_at_work{house="rope"} 1\n')
    for (const path of ['', 'houses.json', 'dye/', 'rope/', 'metrics', 'healthz', 'rope/manifest.webmanifest'])
      expect([path, await (await fetch(page + path)).text()]).toEqual([
        path,
        expect.not.stringMatching(/hemp-and-tar|rope-keeper/),
      ])
    expect((await fetch(`${page}rope.account`)).status).toBe(404)
  })

  test('an account that others can read is told once in the log of its house, however often it is read', async () => {
    studios.house('rope')
    const account = (password: string) => {
      studios.write('rope.account', `rope-keeper\n${password}\n`)
      chmodSync(join(studios.registers, 'rope.account'), 0o644)
    }
    account('hemp-and-tar')
    const page = await start()
    const log = () => serving!.world.said.stdout.split('\n')
    await live(page, 'rope')
    account('hemp-and-pitch')
    await until('the next keeper', () => log().filter(line => / rope: keeping /.test(line)).length === 2)
    expect(log().filter(line => / rope: .*rope\.account can be read by others: chmod 600 /.test(line))).toHaveLength(1)
    expect(serving!.world.said.stderr).toBe('')
  })

  test('a cell that needs something is named with its room, by when, and what it has left', async () => {
    studios.house('dye', { marks: ['W01', 'W02'] })
    const page = await start()
    await live(page, 'dye')
    const untried = await plate(page, 'dye', ({ cell }) => cell !== '')
    expect(untried.cell).toBe('Not heard yet, open each once to test: D01, W01, W02')
    await contacts.publishAsync('dye/w01', 'opened', { qos: 1 })
    await plate(page, 'dye', ({ cell }) => cell === 'Not heard yet, open each once to test: D01, W02')
    await says('dye/d01', 'shut')
    await contacts.publishAsync('dye/w02', 'opened', { qos: 1 })
    const { cell } = await plate(page, 'dye', ({ cell }) => /Next cell/.test(cell))
    expect(cell).toMatch(/^Next cell: W0[12], Vat room · by \d+ [A-Z][a-z]+ \d{4} · \d+ left \(\d+ to \d+\)$/)
  })

  test('open to the network, a house without an account is not kept', async () => {
    studios.house('dye')
    studios.house('rope')
    studios.write('rope.account', 'rope-keeper\nhemp-and-tar\n')
    const page = await start('--host', '0.0.0.0')
    const dye = await plate(page.replace('0.0.0.0', '127.0.0.1'), 'dye', ({ problem }) => /^No account/.test(problem))
    expect(dye.problem).toBe('No account for the broker was found, or it cannot be read.')
    await plate(page.replace('0.0.0.0', '127.0.0.1'), 'rope', ({ isHeard }) => isHeard)
  })
})
