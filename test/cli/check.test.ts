import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { testWorld } from './test-world.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-check-'))
  copyFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), join(folder, 'ropewalk.yaml'))
})
afterEach(() => rmSync(folder, { recursive: true }))

async function check(...args: string[]) {
  const world = testWorld({ cwd: folder })
  const exit = await cli(['check', ...args], world)
  return { exit, out: world.out(), err: world.err() }
}
const edit = (from: string, to: string): void => {
  const path = join(folder, 'ropewalk.yaml')
  const before = readFileSync(path, 'utf8')
  if (!before.includes(from)) throw new Error(`the example has no ${from}`)
  writeFileSync(path, before.replace(from, to))
}

test('a sound register: exit 0, its openings, what was derived, and how surely each sender counts', async () => {
  const { exit, out, err } = await check('ropewalk.yaml')
  expect([exit, err]).toEqual([0, ''])
  expect(out).toContain('Ropewalk Studios: 26 openings, 3 senders')
  expect(out).toMatch(/^W01 +Dye room, west sash +ropewalk\/w01 \* +ropewalkw01 \* +[0-9a-f]{8}$/m)
  expect(out).toMatch(/^W02 +Dye room, south +ropewalk\/w02 +rww02 +[0-9a-f]{8}$/m)
  expect(out).toMatch(
    /^coin: 21 openings, .*\n.*exactly once from the broker on; before it at least once \(QoS 1\).*may count twice$/m,
  )
  expect(out).toMatch(/^ladder: 3 openings, .*\n.*boot count and counted once$/m)
  expect(out).toContain('ropewalk.yaml: nothing wrong')
})

test('a broker address that only this machine reaches is hinted at, for contacts and walls: exit 0', async () => {
  const hint = async () => /^hint: .*$/m.exec((await check('ropewalk.yaml')).out)?.[0]
  expect(await hint()).toMatch(/in broker\.mqtt and broker\.websocket is this machine.*no contact and no tablet/)
  edit('mqtt://127.0.0.1:1883', 'mqtt://broker.lan:1883')
  expect(await hint()).toMatch(/broker\.websocket is this machine itself: no tablet elsewhere/)
  edit("websocket: 'ws://127.0.0.1:9001'", "websocket: ['ws://broker.lan:9001', 'ws://[::1]:9001']")
  expect(await hint()).toMatch(/broker\.websocket/)
  edit(", 'ws://[::1]:9001'", '')
  const { exit, out } = await check('ropewalk.yaml')
  expect([exit, /hint/.test(out)]).toEqual([0, false])
})

test('QoS 0 is at most once, and only warns: exit 0', async () => {
  edit('qos: 1', 'qos: 0')
  const { exit, out } = await check('ropewalk.yaml')
  expect(exit).toBe(0)
  expect(out).toContain('before it at most once (QoS 0)')
  expect(out).toContain('ropewalk.yaml: 0 errors, 1 warning')
})

test('errors: exit 1, each with its caret, no summary', async () => {
  edit('client: rww02', 'client: rwloft')
  edit('kind: hatch', 'kind: hach')
  const { exit, out } = await check('ropewalk.yaml')
  expect(exit).toBe(1)
  expect(out).toMatch(
    /^ropewalk\.yaml:\d+:\d+ {2}W02 and W11 share the client id "rwloft".*\[client-id-twice\]\n\d+ \| .*\n +\| +\^{6}$/m,
  )
  expect(out).toContain('did you mean hatch?')
  expect(out).toContain('ropewalk.yaml: 2 errors, 0 warnings')
  expect(out).not.toContain('exactly once')
})

test('--json is one object with the problems and nothing else', async () => {
  edit('kind: hatch', 'kind: hach')
  const { exit, out } = await check('ropewalk.yaml', '--json')
  const { problems, ...rest } = JSON.parse(out) as { problems: Record<string, unknown>[] }
  expect([exit, rest]).toEqual([1, {}])
  expect(problems).toHaveLength(1)
  expect(Object.keys(problems[0]!)).toEqual(['code', 'severity', 'line', 'column', 'path', 'message'])
  expect(problems[0]).toMatchObject({ code: 'choice', severity: 'error', path: '/openings/18/kind' })
})

test('--json of a sound register is an empty list: exit 0', async () => {
  const { exit, out } = await check('ropewalk.yaml', '--json')
  expect([exit, JSON.parse(out)]).toEqual([0, { problems: [] }])
})

test('a file that is not there or is no UTF-8: exit 3 and its name', async () => {
  const missing = await check('nowhere.yaml')
  expect([missing.exit, missing.out]).toEqual([3, ''])
  expect(missing.err).toContain('nowhere.yaml cannot be read')
  writeFileSync(join(folder, 'latin.yaml'), Buffer.from([0x68, 0xe4, 0x0a]))
  const latin = await check('latin.yaml')
  expect(latin.exit).toBe(3)
  expect(latin.err).toContain('not UTF-8')
})

test('no file named: exit 2', async () => {
  expect((await check()).exit).toBe(2)
})

test('names from the file cannot steer the terminal', async () => {
  edit("name: 'Dye room, west sash'", 'name: "Dye\\e[2J\\u202e room"')
  const { exit, out } = await check('ropewalk.yaml')
  expect(exit).toBe(0)
  expect(out).toContain('Dye\\u001B[2J\\u202E room')
  expect(out.replaceAll('\n', '')).not.toMatch(/[\p{Cc}\u202e]/u)
})
