import { appendFile, mkdtemp, readdir, readFile, rm, stat, utimes, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { privateMacros } from '../../src/emit/firmware/private-header.ts'
import { listenTo } from '../support/ear.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

const REGISTER = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan' }
tally: ropewalk/tally
wifi: { name: Ropewalk yard }
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Shop, sender: coin }
  - { mark: D-1, name: Hatch, sender: coin }
`

let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-private-'))
  await writeFile(join(folder, 'house.yaml'), REGISTER)
})
afterEach(() => rm(folder, { recursive: true, force: true }))

let clock: number
beforeEach(() => {
  clock = Date.now()
})
async function run(...argv: string[]) {
  const world = fakeWorld({ cwd: folder, env: process.env, now: () => clock })
  return { exit: await cli(argv, world), ...world.said }
}
const read = (name: string) => readFile(join(folder, name), 'utf8')
const access = (...more: string[]) =>
  run('emit', 'access', 'house.yaml', '--out', 'acl', '--accounts', 'passwords', '--private', 'fw/private.h', ...more)
/** The C literals of what private.h gives, without their quotes. */
const secrets = async () =>
  new Map(
    [...privateMacros(await read('fw/private.h'))].flatMap(([macro, literal]) =>
      macro === 'PRIVATE_TALLY' ? [] : [[macro, literal.slice(1, -1)]],
    ),
  )
const KILN = REGISTER.replace('Ropewalk Studios', 'Ropewalk Studios, kiln').replace('ropewalk/tally', 'kiln/tally')

test.each([
  ['emit broker', ['emit', 'broker', 'kiln.yaml', '--out', 'set'], 'set/house.access'],
  ['emit access', ['emit', 'access', 'kiln.yaml', '--out', 'set/house.access'], 'set/house.access'],
])('%s of one house leaves the list of another as it is, and goes on with its own', async (_name, argv, list) => {
  await writeFile(join(folder, 'kiln.yaml'), KILN)
  expect((await run('emit', 'broker', 'house.yaml', '--out', 'set')).exit).toBe(0)
  const before = await read(list)
  const { exit, stderr } = await run(...argv)
  expect(exit).toBe(1)
  expect(stderr).toMatch(
    /set\/house\.access is the access list of another house \(Ropewalk Studios with the tally ropewalk\/tally\).*--houses/,
  )
  expect(await read(list)).toBe(before)
  // The same house under another name: an edit of its register.
  await writeFile(join(folder, 'house.yaml'), REGISTER.replace('Ropewalk Studios', 'Ropewalk Studios, yard'))
  expect((await run('emit', 'broker', 'house.yaml', '--out', 'set')).exit).toBe(0)
})

test('a list of another tally is no own one, whatever its title; the way for a house that changed its own is named', async () => {
  await writeFile(join(folder, 'kiln.yaml'), REGISTER.replace('ropewalk/tally', 'kiln/tally'))
  expect((await run('emit', 'access', 'house.yaml', '--out', 'acl')).exit).toBe(0)
  const before = await read('acl')
  const { exit, stderr } = await run('emit', 'access', 'kiln.yaml', '--out', 'acl')
  expect([exit, stderr]).toEqual([
    1,
    expect.stringMatching(
      /\(Ropewalk Studios with the tally ropewalk\/tally\).* has no more, take that file away first/,
    ),
  ])
  expect(await read('acl')).toBe(before)
  await rm(join(folder, 'acl'))
  expect((await run('emit', 'access', 'kiln.yaml', '--out', 'acl')).exit).toBe(0)
})

test('what stands in an access list cannot steer the terminal', async () => {
  const head = '# Generated from the register of x\u001b[31mred\u0007. Do not edit.'
  await writeFile(join(folder, 'acl'), `${head}\n\nuser onlooker\ntopic read a\u202eb/#\n`)
  const { exit, stderr } = await run('emit', 'access', 'house.yaml', '--out', 'acl')
  expect(exit).toBe(1)
  expect(stderr).toContain('x\\u001B[31mred\\u0007 with the tally a\\u202Eb')
  expect(stderr).toMatch(/^[^\p{Cc}\u202e]*\n$/u)
})

test('the keeper may take away the devices of openings that were taken out, until a list is made anew', async () => {
  const devices = async () =>
    [...(await read('acl')).matchAll(/^topic write homie\/5\/(.*)\/#$/gm)].map(([, id]) => id).sort()
  const emit = async (...more: string[]) => (await run('emit', 'access', 'house.yaml', '--out', 'acl', ...more)).exit
  await writeFile(join(folder, 'acl'), (await run('emit', 'access', 'house.yaml')).stdout)
  await writeFile(join(folder, 'house.yaml'), REGISTER.replace(/.*W02.*\n/, ''))
  expect(await emit('--check')).toBe(1)
  expect(await emit()).toBe(0)
  expect(await devices()).toEqual(['d-1', 'ropewalk-tally', 'w01', 'w02'])
  expect(await emit('--check')).toBe(0)
  // An account of all devices, as such lists had before, is not handed on; nor are those of another house.
  const list = await read('acl')
  await writeFile(join(folder, 'acl'), list.replaceAll('homie/5/w02/#', 'homie/5/#\ntopic write homie/5/+/#'))
  expect(await emit()).toBe(0)
  expect(await devices()).toEqual(['d-1', 'ropewalk-tally', 'w01'])
})

describe(haveMosquitto.title('passwords without copying'), { skip: haveMosquitto.skip }, () => {
  test('each contact gets its own, for its owner alone, and nothing of it is shown or kept elsewhere', async () => {
    expect((await run('emit', 'firmware', 'house.yaml', '--out', 'fw')).exit).toBe(0)
    const made = await access()
    expect(made.exit).toBe(0)
    const held = await secrets()
    expect([...held.keys()].sort()).toEqual(['PRIVATE_PASSWORD_D_1', 'PRIVATE_PASSWORD_W01', 'PRIVATE_PASSWORD_W02'])
    expect(new Set(held.values()).size).toBe(3)
    const elsewhere = [
      made.stdout,
      made.stderr,
      await read('acl'),
      await read('passwords'),
      await read('fw/private.h.times'),
    ].join()
    for (const password of held.values()) {
      expect(password).toHaveLength(20)
      expect(elsewhere).not.toContain(password)
    }
    for (const name of ['fw/private.h', 'fw/private.h.times', 'passwords'])
      expect((await stat(join(folder, name))).mode & 0o777).toBe(0o600)
    // The roles' passwords are for people, who type them at a wall: they are still shown, once.
    expect([...made.stdout.matchAll(/^ {2}(\S+)\s+\S{20}\s/gm)].map(([, user]) => user)).toEqual([
      'onlooker',
      'direct',
      'hand',
      'bench',
      'keeper',
    ])
    expect((await readdir(folder)).sort()).toEqual(['acl', 'fw', 'house.yaml', 'passwords'])
  })

  const filesIn = async () =>
    Object.fromEntries(
      await Promise.all(
        (await readdir(folder, { recursive: true, withFileTypes: true }))
          .filter(each => each.isFile())
          .map(async each => [each.name, await readFile(join(each.parentPath, each.name), 'utf8')] as const),
      ),
    )

  test.each([
    ['emit access', ['--out', 'kiln.acl', '--accounts', 'kiln.passwords', '--private', 'fw/private.h']],
    ['emit broker', ['--out', 'kiln', '--accounts', 'kiln.passwords', '--private', 'fw/private.h']],
    ['emit firmware', ['--out', 'fw']],
    ['check', ['--tally', 'kiln.jsonl', '--private', 'fw/private.h']],
    ['rehearse', ['W01', '--private', 'fw/private.h']],
  ])('%s leaves the private.h of another house as it is, and makes nothing', async (command, more) => {
    await access()
    await writeFile(join(folder, 'kiln.yaml'), KILN)
    await writeFile(join(folder, 'kiln.jsonl'), '')
    const before = await filesIn()
    const { exit, stderr } = await run(...command.split(' '), 'kiln.yaml', ...more)
    expect([exit, stderr]).toEqual([
      1,
      expect.stringMatching(
        /fw\/private\.h is of the house with the tally ropewalk\/tally, not of Ropewalk Studios, kiln \(kiln\/tally\): .*--private/,
      ),
    ])
    expect(await filesIn()).toEqual(before)
  })

  test('a private.h of before is taken for this house’s, and says so from then on', async () => {
    await run('emit', 'firmware', 'house.yaml', '--out', 'fw')
    const older = (await read('fw/private.h')).replace(/^#define PRIVATE_TALLY.*\n/m, '')
    await writeFile(join(folder, 'fw/private.h'), older)
    expect((await access()).stderr).toMatch(/fw\/private\.h did not say of which house it is: it does now, Ropewalk/)
    expect(await read('fw/private.h')).toContain('#define PRIVATE_TALLY "ropewalk/tally"\n')
    expect((await access()).stderr).not.toMatch(/did not say/)
  })

  test('the broker lets each contact in with what stands there', async () => {
    await access()
    const held = await secrets()
    const broker = await Mosquitto.start({
      lines: [`password_file ${join(folder, 'passwords')}`, 'allow_anonymous false'],
    })
    try {
      for (const [user, macro, state] of [
        ['ropewalkw01', 'PRIVATE_PASSWORD_W01', 'live'],
        ['ropewalkd1', 'PRIVATE_PASSWORD_D_1', 'live'],
        ['ropewalkw01', 'PRIVATE_PASSWORD_W02', 'refused'],
      ] as const) {
        const ear = listenTo({ url: broker.mqttUrl, username: user, password: held.get(macro)! })
        await until(`${user} to be ${state}`, () => ear.state() === state)
        await ear.feed.close()
      }
    } finally {
      await broker.close()
    }
  })

  test('what the person wrote stays, a file that others may read is closed, and a new opening gets its line', async () => {
    await run('emit', 'firmware', 'house.yaml', '--out', 'fw')
    const own = (await read('fw/private.h')).replace(
      '/* #define PRIVATE_WIFI_PASSWORD "" */',
      '#define PRIVATE_WIFI_PASSWORD "mine"',
    )
    await writeFile(join(folder, 'fw/private.h'), own, { mode: 0o644 })
    await access()
    const filled = await read('fw/private.h')
    expect(filled.replace(/^#define PRIVATE_PASSWORD_(\S+) "\S+"$/gm, '/* #define PRIVATE_PASSWORD_$1 "" */')).toBe(own)
    expect((await stat(join(folder, 'fw/private.h'))).mode & 0o777).toBe(0o600)
    await appendFile(join(folder, 'house.yaml'), '  - { mark: W03, name: New, sender: coin }\n')
    await access()
    const more = await read('fw/private.h')
    expect(more).toContain('\n#define PRIVATE_PASSWORD_W03 "')
    expect(more.replace(/^#define PRIVATE_PASSWORD_W03 .*\n/m, '')).toBe(filled)
  })

  test('accounts that were made before cannot be filled in, and it says what to do', async () => {
    await run('emit', 'access', 'house.yaml', '--out', 'acl', '--accounts', 'passwords')
    const late = await access()
    expect(late.stderr).toContain('--renew ropewalkw01 ropewalkw02 ropewalkd1')
    expect((await secrets()).size).toBe(0)
    const renewed = await access('--renew', 'ropewalkw01', 'ropewalkw02', 'ropewalkd1')
    expect(renewed).toMatchObject({ exit: 0, stdout: '' })
    expect((await secrets()).size).toBe(3)
    expect(renewed.stderr).not.toContain('cannot be filled in')
  })

  test('when the broker’s file cannot be written, the private header is as it was', async () => {
    await access()
    const before = await read('fw/private.h')
    await rm(join(folder, 'passwords'))
    const failed = await run(
      'emit',
      'access',
      'house.yaml',
      '--out',
      'acl',
      '--accounts',
      'acl/passwords',
      '--private',
      'fw/private.h',
    )
    expect(failed.exit).toBe(3)
    expect(await read('fw/private.h')).toBe(before)
  })

  test('a file that is no private header is left alone', async () => {
    await writeFile(join(folder, 'notes.txt'), 'my notes\n')
    const wrong = await run(
      'emit',
      'access',
      'house.yaml',
      '--out',
      'acl',
      '--accounts',
      'passwords',
      '--private',
      'notes.txt',
    )
    expect(wrong).toMatchObject({ exit: 1, stdout: '' })
    expect(wrong.stderr).toContain('notes.txt is no private header')
    expect(await read('notes.txt')).toBe('my notes\n')
    expect(await readdir(folder)).not.toContain('passwords')
    expect(await run('emit', 'access', 'house.yaml', '--out', 'acl', '--private', 'fw/private.h')).toMatchObject({
      exit: 2,
    })
  })
})

describe(haveMosquitto.title('modules that hold an older password'), { skip: haveMosquitto.skip }, () => {
  const MINUTE = 60_000
  let entries = 0
  const flashed = (mark: string) =>
    appendFile(
      join(folder, 'tally.jsonl'),
      `${JSON.stringify({ id: `f${entries++}`, at: new Date(clock).toISOString(), mark, what: 'flashed', how: 'live' })}\n`,
    )
  const check = async () => {
    const { exit, stdout } = await run(
      'check',
      'house.yaml',
      '--tally',
      'tally.jsonl',
      '--private',
      'fw/private.h',
      '--json',
    )
    expect(exit).toBe(0)
    const { olderPasswords } = JSON.parse(stdout) as {
      olderPasswords: { mark: string; flashedAt?: string; renewed: { of: string }[] }[]
    }
    return olderPasswords.map(({ mark, flashedAt, renewed }) => [
      mark,
      flashedAt === undefined ? '?' : 'flashed',
      ...renewed.map(({ of }) => of),
    ])
  }
  const network = async (password: string) => {
    const file = join(folder, 'fw/private.h')
    const text = await readFile(file, 'utf8')
    await writeFile(file, text.replace(/^.*PRIVATE_WIFI_PASSWORD.*$/m, `#define PRIVATE_WIFI_PASSWORD "${password}"`))
    await utimes(file, clock / 1000, clock / 1000)
  }
  /** The tests' clock and the file's own times, which the operating system gives, go on together. */
  const pass = async () => {
    clock += MINUTE
    const file = join(folder, 'fw/private.h')
    await utimes(file, clock / 1000, clock / 1000)
  }

  beforeEach(async () => {
    clock = Date.now() - 100 * MINUTE
    await access()
    await network('sesame')
    await writeFile(join(folder, 'tally.jsonl'), '')
    expect(await check()).toEqual([])
    clock += MINUTE
    await flashed('W01')
    await flashed('W02')
    expect(await check()).toEqual([])
    clock += MINUTE
  })

  test('a renewed account is told of its module, until that is flashed again', async () => {
    await access('--renew', 'ropewalkw02')
    await pass()
    expect(await check()).toEqual([['W02', 'flashed', 'account']])
    clock += MINUTE
    await flashed('W02')
    expect(await check()).toEqual([])
  })

  test('a new network password is told of every module, of one whose flashing nobody noted as well', async () => {
    await network('sesame street')
    expect(await check()).toEqual([
      ['W01', 'flashed', 'network'],
      ['W02', 'flashed', 'network'],
      ['D-1', '?', 'network'],
    ])
    clock += MINUTE
    await flashed('W01')
    expect((await check()).map(([mark]) => mark)).toEqual(['W02', 'D-1'])
    // Back to what it was: those that were not flashed hold it.
    clock += MINUTE
    await network('sesame')
    expect(await check()).toEqual([['W01', 'flashed', 'network']])
  })

  test('fingerprints give no password away, and other edits of the file change none', async () => {
    await network('sesame street')
    await check()
    const times = await read('fw/private.h.times')
    expect(times).not.toMatch(/sesame/)
    for (const password of (await secrets()).values()) expect(times).not.toContain(password)
    clock += MINUTE
    await appendFile(join(folder, 'fw/private.h'), '/* a note */\n')
    await check()
    expect(await read('fw/private.h.times')).toBe(times)
    // The same password elsewhere has another fingerprint: each house its own salt.
    const { salt } = JSON.parse(times) as { salt: string }
    expect(salt).toMatch(/^[0-9a-f]{32}$/)
  })

  test('nothing of a password gets into the tally', async () => {
    await network('sesame street')
    await check()
    expect(await read('tally.jsonl')).not.toMatch(/sesame|fingerprint/)
  })

  test('times that are damaged are a sentence, not a guess', async () => {
    await writeFile(join(folder, 'fw/private.h.times'), '{"v":1}')
    const { exit, stderr } = await run('check', 'house.yaml', '--tally', 'tally.jsonl', '--private', 'fw/private.h')
    expect(exit).toBe(1)
    expect(stderr).toContain('move it away')
    expect(await run('check', 'house.yaml', '--private', 'fw/private.h')).toMatchObject({ exit: 2 })
  })
})
