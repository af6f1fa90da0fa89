import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { healthPages } from '../../src/cli/tally/health-pages.ts'
import { HOUSE } from '../keeper/bench-house.ts'
import { needs, programPath } from '../support/missing.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { readOpenMetrics } from '../support/open-metrics.ts'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

const havePromtool = needs('promtool')

describe('who may read what', () => {
  const pages = healthPages(() => undefined, ['192.168.1.20', 'fd00::20'])
  const asks = (path: string, from: string) => pages.get(path)?.(from).status
  test('the figures are for this machine and the addresses that were named', () => {
    for (const from of ['127.0.0.1', '127.8.8.8', '::1', '::ffff:127.0.0.1', '192.168.1.20', '::ffff:192.168.1.20'])
      expect([from, asks('/metrics', from)]).toEqual([from, 200])
    expect(asks('/metrics', 'fd00::20')).toBe(200)
    for (const from of ['192.168.1.2', '192.168.1.200', '10.0.0.1', '::ffff:10.0.0.1', '::', '', '1::1', '127.0.0.1.x'])
      expect([from, asks('/metrics', from)]).toEqual([from, 403])
  })
  test('whether it is at work is for all', () => {
    expect(asks('/healthz', '192.168.1.2')).toBe(503)
  })
})

describe(haveMosquitto.title('serve tells how the keeper is'), { skip: haveMosquitto.skip }, () => {
  let folder: string
  let broker: Mosquitto
  let page = ''
  const world = fakeWorld()
  let ended: Promise<number>
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'sashtally-health-'))
    broker = await Mosquitto.start({ persistence: 'on-stop' })
    await broker.stop()
    const register = join(folder, 'house.yaml')
    const { mqttUrl, websocketUrl } = broker
    writeFileSync(
      register,
      HOUSE.replace("mqtt: 'mqtt://broker.lan:1883'", `mqtt: '${mqttUrl}', websocket: '${websocketUrl}'`),
    )
    const backups = ['--backups', join(folder, 'backups')]
    ended = cli(['serve', register, '--data', join(folder, 'data'), '--port', '0', ...backups], world)
    page = await until('the page', () => /the wall: (\S+)/.exec(world.said.stdout)?.[1])
  })
  afterAll(async () => {
    world.interrupt()
    expect(await ended).toBe(0)
    await broker.close()
    rmSync(folder, { recursive: true, force: true })
  })

  const health = async () => {
    const response = await fetch(`${page}healthz`)
    return [response.status, await response.text()] as const
  }
  const figures = async () => {
    const text = await (await fetch(`${page}metrics`)).text()
    return Object.fromEntries(readOpenMetrics(text).map(({ name, value }) => [name, value]))
  }

  test('before the broker is there: the wall is served, and says to monitors that nobody keeps the tally', async () => {
    expect((await fetch(page)).status).toBe(200)
    expect(await health()).toEqual([503, expect.stringMatching(/^not at work: no broker has answered yet/)])
    expect(await figures()).toEqual({ sashtally_at_work: 0 })
  })

  test('once it is there, without a new start: at work, with figures that rise', async () => {
    await broker.start()
    await until('the keeper', async () => (await health())[0] === 200)
    expect(await health()).toEqual([200, expect.stringMatching(/^at work: the last beat was \d+ s ago\n$/)])
    const before = await figures()
    expect(before).toMatchObject({ sashtally_at_work: 1, sashtally_waiting_messages: 0, sashtally_refused_messages: 0 })
    expect(before.sashtally_disk_free_bytes).toBeGreaterThan(1e6)
    expect(Math.abs(before.sashtally_last_beat_timestamp_seconds! - Date.now() / 1000)).toBeLessThan(90)
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    await contact.publishAsync('ropewalk/tally/say/W01', 'no json', { qos: 1 })
    await contact.endAsync()
    await until('the entry and the refusal', async () => {
      const { sashtally_entries: entries = 0, sashtally_refused_messages: refused } = await figures()
      return entries > before.sashtally_entries! && refused === 1
    })
  })

  test('nothing of it names the house, an opening, a topic or a path', async () => {
    const answers = [await (await fetch(`${page}healthz`)).text(), await (await fetch(`${page}metrics`)).text()].join()
    for (const secret of ['ropewalk', 'Ropewalk', 'W01', folder, '127.0.0.1']) expect(answers).not.toContain(secret)
  })

  test('the answers are never kept, have the standard’s type, and hold to the rules of the page', async () => {
    const { headers } = await fetch(`${page}metrics`)
    expect(headers.get('content-type')).toBe('application/openmetrics-text; version=1.0.0; charset=utf-8')
    expect(headers.get('cache-control')).toBe('no-store')
    expect((await fetch(`${page}healthz`, { method: 'POST' })).status).toBe(405)
    expect(await (await fetch(`${page}healthz`, { method: 'HEAD' })).text()).toBe('')
  })

  test(havePromtool.title('promtool finds nothing wrong'), { skip: havePromtool.skip }, async () => {
    const input = await (await fetch(`${page}metrics`)).text()
    const done = spawnSync(programPath('promtool')!, ['check', 'metrics'], { input, encoding: 'utf8' })
    expect([done.status, done.stdout + done.stderr]).toEqual([0, ''])
  })

  test(havePromtool.title('a monitor reads it over the network as OpenMetrics'), {
    skip: havePromtool.skip,
  }, async () => {
    const [port, file] = [await freePort(), join(folder, 'monitor.yml')]
    const target = page.replace(/^http:\/\/|\/$/g, '')
    const job = { job_name: 'sashtally', scrape_interval: '1s', static_configs: [{ targets: [target] }] }
    writeFileSync(file, JSON.stringify({ scrape_configs: [job] }))
    const argv = [`--config.file=${file}`, `--storage.tsdb.path=${join(folder, 'monitor')}`]
    const monitor = spawn(programPath('prometheus')!, [...argv, `--web.listen-address=127.0.0.1:${port}`], {
      stdio: 'ignore',
    })
    try {
      const seen = await until('the monitor', () => {
        const query = ['query', 'instant', `http://127.0.0.1:${port}`, 'sashtally_entries']
        return /=> (\d+) @/.exec(spawnSync(programPath('promtool')!, query, { encoding: 'utf8' }).stdout)?.[1]
      })
      expect(Number(seen)).toBe((await figures()).sashtally_entries)
    } finally {
      monitor.kill('SIGKILL')
    }
  })

  test('when the broker dies a monitor hears of it', async () => {
    await broker.stop()
    await until('the word', async () => (await health())[0] === 503)
    expect((await health())[1]).toMatch(/^not at work: the broker is not reached/)
    expect(await figures()).toMatchObject({ sashtally_at_work: 0 })
  })
})
