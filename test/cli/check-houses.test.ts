import { cpSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { HOUSE } from '../keeper/bench-house.ts'
import { fakeWorld } from '../support/world.ts'

const HERE = HOUSE.replace(
  "mqtt: 'mqtt://broker.lan:1883'",
  "mqtt: 'mqtt://broker.lan', websocket: 'ws://broker.lan:9001'",
)

describe('check of a folder of registers', () => {
  let folder: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'sashtally-check-'))
  })
  afterEach(() => rmSync(folder, { recursive: true, force: true }))

  const write = (name: string, text: string) => writeFileSync(join(folder, name), text)
  const check = async (...more: string[]) => {
    const world = fakeWorld()
    return { exit: await cli(['check', '--houses', folder, ...more], world), ...world.said }
  }

  test('finds nothing wrong with the examples', async () => {
    cpSync('examples/studios', folder, { recursive: true })
    const { exit, stdout } = await check()
    expect([exit, stdout]).toEqual([
      0,
      expect.stringMatching(/dye-house\.yaml: nothing wrong\n.*rope-loft\.yaml: nothing wrong\n$/),
    ])
  })

  test('names both files and lines where two houses at one broker share a client id or a topic', async () => {
    write('dye.yaml', HERE)
    const rope = HERE.replace('ropewalk/tally', 'rope/tally').replace(
      "'Loft', sender",
      "'Loft', client: ropewalkw01, sender",
    )
    write('rope.yaml', rope)
    const { exit, stdout } = await check()
    const line = (text: string) => HERE.split('\n').findIndex(each => each.includes(text)) + 1
    expect(exit).toBe(1)
    expect(stdout.match(/\[houses-clash\]/g)).toHaveLength(2)
    const column = rope.split('\n')[line('W02') - 1]!.indexOf('ropewalkw01') + 1
    expect(stdout).toContain(
      `rope.yaml:${line('W02')}:${column}  ${join(folder, 'rope.yaml')}:${line('W02')} and ${join(folder, 'dye.yaml')}:${line('W01')} both have the client id ropewalkw01 at broker.lan:1883`,
    )
    // Which of them came first nobody can see: both are told.
    expect(stdout).toContain(
      `${join(folder, 'dye.yaml')}:${line('W01')} and ${join(folder, 'rope.yaml')}:${line('W02')} both have the client id ropewalkw01`,
    )
    expect(stdout).toMatch(/dye\.yaml: 1 error, 0 warnings\n.*rope\.yaml: 1 error, 0 warnings\n$/s)
    write(
      'rope.yaml',
      rope.replace('ws://broker.lan:9001', 'ws://rope.lan:9001').replace('mqtt://broker.lan', 'mqtt://rope.lan'),
    )
    expect((await check()).exit).toBe(0)
  })

  test('what registers share cannot steer the terminal', async () => {
    const house = (tally: string) =>
      HERE.replace('ropewalk/tally', tally).replace("'Loft', sender", '\'Loft\', client: "x\\e[31m\\nFAKE", sender')
    write('dye.yaml', house('dye/tally'))
    write('rope\u0007.yaml', house('rope/tally'))
    const { exit, stdout } = await check()
    expect(exit).toBe(1)
    expect(stdout).toContain('the client id x\\u001B[31m\\u000AFAKE at broker.lan:1883')
    expect(stdout).toMatch(/^[\n\P{Cc}]*$/u)
    expect(stdout).not.toMatch(/^FAKE/m)
  })

  test('goes on behind a broken register, and says in JSON of which file each is', async () => {
    write('dye.yaml', 'house: [\n')
    write('rope.yaml', HERE)
    write('twin.yaml', HERE)
    const { exit, stdout } = await check('--json')
    expect(exit).toBe(1)
    const { problems } = JSON.parse(stdout) as { problems: { file: string; code: string }[] }
    const codes = (name: string) => problems.filter(({ file }) => file === join(folder, name)).map(({ code }) => code)
    expect(codes('dye.yaml')).not.toEqual([])
    // The tally, and of each of four openings its client id and its topic.
    for (const name of ['rope.yaml', 'twin.yaml'])
      expect(codes(name).filter(code => code === 'houses-clash')).toHaveLength(1 + 2 * 4)
  })

  test('refuses a house whose tally lies inside that of another, and so does the access list', async () => {
    write('dye.yaml', HERE)
    const inner = HERE.replace('ropewalk/tally', 'ropewalk/tally/say')
    expect(inner).not.toBe(HERE)
    write('rope.yaml', inner)
    const sentence =
      /rope\.yaml has the tally ropewalk\/tally\/say inside the tally ropewalk\/tally of \S+dye\.yaml at broker\.lan:1883/
    expect(await check()).toMatchObject({ exit: 1, stdout: expect.stringMatching(sentence) })
    const world = fakeWorld()
    expect(await cli(['emit', 'access', '--houses', folder], world)).toBe(1)
    expect(world.said).toMatchObject({ stdout: '', stderr: expect.stringMatching(sentence) })
  })

  test('a file that cannot be read is told beside what is wrong with the others', async () => {
    write('dye.yaml', 'house: [\n')
    mkdirSync(join(folder, 'loft.yaml'))
    symlinkSync('nowhere', join(folder, 'rope.yaml'))
    write('yard.yaml', HERE)
    const { exit, stdout } = await check()
    expect(exit).toBe(3)
    for (const told of [
      /dye\.yaml:1:/,
      /loft\.yaml cannot be read: .* \[file-unreadable\]/,
      /rope\.yaml cannot be read: .* \[file-unreadable\]/,
      /yard\.yaml: nothing wrong/,
    ])
      expect(stdout).toMatch(told)
    const world = fakeWorld()
    expect(await cli(['emit', 'access', '--houses', folder], world)).toBe(3)
    expect(world.said.stderr).toMatch(/dye\.yaml:1:.*loft\.yaml cannot.*rope\.yaml cannot.*nothing was made/s)
  })

  test('is wrong use with what is for one house, and without any', async () => {
    expect(await check('--data', 'd')).toMatchObject({
      exit: 2,
      stderr: expect.stringContaining('--data is for one house'),
    })
    expect(await check()).toMatchObject({ exit: 1, stderr: expect.stringContaining('holds no register') })
    const world = fakeWorld()
    expect([await cli(['check'], world), world.said.stderr]).toEqual([
      2,
      expect.stringContaining('check wants one of the two'),
    ])
  })
})
