import { existsSync } from 'node:fs'
import { mkdtemp, readdir, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { ropewalk } from '../emit/houses.ts'
import { haveMosquitto } from '../support/mosquitto.ts'
import { fakeWorld } from '../support/world.ts'

const FILE = join(import.meta.dirname, '../../examples/ropewalk.yaml')
let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-emit-'))
})
afterEach(() => rm(folder, { recursive: true, force: true }))

async function run(...argv: string[]) {
  const world = fakeWorld({ cwd: folder, env: process.env })
  return { exit: await cli(argv, world), ...world.said }
}

describe('emit firmware', () => {
  const PROGRAM = [
    'contact.c',
    'contact.h',
    'contact_edges.h',
    'contact_kept.h',
    'contact_packets.h',
    'contact_payload.h',
    'contact_port.h',
  ]
  test('writes a header a contact, the contact program, and private.h once', async () => {
    expect((await run('emit', 'firmware', FILE, '--out', 'fw')).exit).toBe(0)
    const files = await readdir(join(folder, 'fw'))
    expect(files.sort()).toEqual(
      [...ropewalk().openings.map(({ mark }) => `${mark.toLowerCase()}.h`), ...PROGRAM, 'private.h'].sort(),
    )
    expect((await stat(join(folder, 'fw/private.h'))).mode & 0o777).toBe(0o600)
    await writeFile(join(folder, 'fw/private.h'), 'mine')
    await run('emit', 'firmware', FILE, '--out', 'fw')
    expect(await readFile(join(folder, 'fw/private.h'), 'utf8')).toBe('mine')
  })
  test('a port comes when it is asked for, and a check sees that it is out of date', async () => {
    const emit = (...more: string[]) => run('emit', 'firmware', FILE, '--out', 'fw', '--mark', 'W07', ...more)
    expect((await emit('--port', 'posix')).exit).toBe(0)
    expect(await readdir(join(folder, 'fw'))).toEqual([...PROGRAM, 'contact_posix.c', 'private.h', 'w07.h'].sort())
    expect((await emit('--port', 'skeleton', '--check')).exit).toBe(1)
    expect((await emit('--port', 'skeleton')).exit).toBe(0)
    expect((await emit('--port', 'skeleton', '--check')).exit).toBe(0)
    await writeFile(join(folder, 'fw/contact.c'), 'old\n')
    expect(await emit('--check')).toMatchObject({ exit: 1, stdout: expect.stringContaining('-old') })
    expect(await emit('--port', 'other')).toMatchObject({ exit: 2 })
  })
  test('one mark, a mark that is not there, a check that is out of date', async () => {
    expect((await run('emit', 'firmware', FILE, '--out', 'fw', '--mark', 'W07')).exit).toBe(0)
    expect(await readdir(join(folder, 'fw'))).toEqual([...PROGRAM, 'private.h', 'w07.h'].sort())
    expect(await run('emit', 'firmware', FILE, '--out', 'fw', '--mark', 'W99')).toMatchObject({ exit: 2, stdout: '' })
    expect((await run('emit', 'firmware', FILE, '--out', 'fw', '--mark', 'W07', '--check')).exit).toBe(0)
    await writeFile(join(folder, 'fw/w07.h'), 'old\n')
    const late = await run('emit', 'firmware', FILE, '--out', 'fw', '--mark', 'W07', '--check')
    expect(late).toMatchObject({ exit: 1, stdout: expect.stringContaining('-old') })
    expect(await readFile(join(folder, 'fw/w07.h'), 'utf8')).toBe('old\n')
  })
  test('a loopback broker is warned of', async () => {
    expect((await run('emit', 'firmware', FILE, '--out', 'fw')).stderr).toMatch(/no contact in a wall can reach it/)
  })
})

describe('emit labels and schedule', () => {
  test('write what they are asked for', async () => {
    expect(await run('emit', 'labels', FILE)).toMatchObject({
      exit: 0,
      stdout: expect.stringContaining('<!doctype html>'),
    })
    expect(await run('emit', 'labels', FILE, '--svg', '--sheet', '2')).toMatchObject({
      exit: 0,
      stdout: expect.stringMatching(/^<svg /),
    })
    expect(await run('emit', 'labels', FILE, '--svg', '--sheet', '9')).toMatchObject({ exit: 2, stdout: '' })
    expect(await run('emit', 'labels', FILE, '--columns', '9')).toMatchObject({ exit: 2, stdout: '' })
    expect(await run('emit', 'schedule', FILE, '--csv')).toMatchObject({
      exit: 0,
      stdout: expect.stringMatching(/^Mark,Name,/),
    })
  })
})

describe(haveMosquitto.title('emit access'), { skip: haveMosquitto.skip }, () => {
  test('shows each password once and keeps a hash only', async () => {
    const made = await run('emit', 'access', FILE, '--out', 'acl', '--accounts', 'passwords')
    expect(made.exit).toBe(0)
    const shown = [...made.stdout.matchAll(/^ {2}(\S+)\s+(\S{20})\s/gm)]
    expect(shown).toHaveLength(ropewalk().openings.length + 5)
    const kept = await readFile(join(folder, 'passwords'), 'utf8')
    for (const [, user, password] of shown) {
      expect(kept).toContain(`${user}:$`)
      expect(kept + made.stderr + (await readFile(join(folder, 'acl'), 'utf8'))).not.toContain(password)
    }
    expect((await stat(join(folder, 'passwords'))).mode & 0o777).toBe(0o600)
  })
  test('makes only what is missing, renews what is asked for', async () => {
    await run('emit', 'access', FILE, '--out', 'acl', '--accounts', 'passwords')
    const before = await readFile(join(folder, 'passwords'), 'utf8')
    expect((await run('emit', 'access', FILE, '--out', 'acl', '--accounts', 'passwords')).stdout).toBe('')
    expect(await readFile(join(folder, 'passwords'), 'utf8')).toBe(before)
    const renewed = await run('emit', 'access', FILE, '--out', 'acl', '--accounts', 'passwords', '--renew', 'onlooker')
    expect(renewed.stdout.match(/^ {2}/gm)).toHaveLength(1)
    expect((await readFile(join(folder, 'passwords'), 'utf8')).split('\n')).toHaveLength(before.split('\n').length)
  })
  test('without the hashing tool nothing is kept', async () => {
    const world = fakeWorld({ cwd: folder, env: { PATH: '/nowhere' } })
    const exit = await cli(
      ['emit', 'access', FILE, '--out', 'acl', '--accounts', 'passwords', '--renew', 'nobody'],
      world,
    )
    expect(exit).toBe(2)
    expect(existsSync(join(folder, 'passwords'))).toBe(false)
  })
})
