import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { linkTo } from '../../src/cli/broker/link.ts'
import { cli } from '../../src/cli/cli.ts'
import { sayOver } from '../../src/cli/tally/say-over.ts'
import { policyOf } from '../../src/house/policy.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { type Broker, startBroker } from '../../src/link/broker.ts'
import type { Feed } from '../../src/protocol/feed.ts'
import { HOUSE, registerOf } from '../keeper/bench-house.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

/** A house on a real socket: the embedded broker, a folder, a register. */
describe('a keeper', () => {
  let broker: Broker
  let folder: string
  let register: string
  let data: string
  let hand: Feed
  const retained = new Map<string, string>()
  const running: { interrupt(): void; done: Promise<number> }[] = []

  beforeEach(async () => {
    broker = await startBroker()
    folder = mkdtempSync(join(tmpdir(), 'sashtally-keep-'))
    register = join(folder, 'house.yaml')
    data = join(folder, 'data')
    writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
    retained.clear()
    hand = linkTo(broker.mqttUrl, {})
    hand.listen(['ropewalk/tally/#'])
    await new Promise<void>(done =>
      hand.open({
        heard: ({ topic, payload }) => void retained.set(topic, new TextDecoder().decode(payload)),
        link: ({ state }) => state === 'live' && done(),
      }),
    )
  })
  afterEach(async () => {
    for (const each of running.splice(0)) {
      each.interrupt()
      await each.done
    }
    await hand.close()
    await broker.close()
    rmSync(folder, { recursive: true, force: true })
  })

  function start(...more: string[]) {
    const world = fakeWorld()
    const done = cli(['keep', register, '--data', data, ...more], world)
    const keeper = { world, done, interrupt: () => world.interrupt() }
    running.push(keeper)
    return keeper
  }
  const started = async () => {
    const keeper = start()
    await until('the keeper to be live', () => json('keeper')?.state === 'live' || keeper.world.said.stderr)
    return keeper
  }
  const json = (topic: string) => {
    const text = retained.get(`ropewalk/tally/${topic}`)
    return text ? JSON.parse(text) : undefined
  }
  async function run(...argv: string[]) {
    const world = fakeWorld()
    const exit = await cli(argv, world)
    return { exit, out: world.said.stdout, err: world.said.stderr }
  }

  it('keeps words, hears people, answers questions and hands everything over', async () => {
    const keeper = await started()
    await hand.publish('ropewalk/w01', 'opened')
    await until('the reading', () => json('opening/W01')?.position === 'open')

    const said = await run('say', register, 'w02', 'seen-closed', '--by', 'Ada')
    expect(said).toMatchObject({ exit: 0, err: '' })
    expect(said.out).toMatch(/^W02 seen-closed: kept; taken back with: sashtally say .* W02 undone --undoes \S+\n$/)
    const id = /--undoes (\S+)/.exec(said.out)![1]!
    expect((await run('say', register, 'W02', 'undone', '--undoes', id)).exit).toBe(0)
    const refused = await run('say', register, 'D01', 'cell-fitted', '--cell', 'CR2032')
    expect(refused.exit).toBe(1)
    expect(refused.err).toMatch(/D01 cell-fitted: refused: D01 runs on mains/)
    const all = (await run('say', register, 'all', 'seen-closed')).out
    expect(all.split('\n')).toHaveLength(6)
    const together = /^All of it at once: taken back with: sashtally say .* all undone --undoes (\S+)$/m.exec(all)![1]!
    const undone = await run('say', register, 'all', 'undone', '--undoes', together)
    expect([undone.exit, undone.out]).toEqual([0, expect.stringMatching(/^(?:\w+ undone: kept\n){4}$/)])
    await until('all of it to be taken back', () => json('opening/W02')?.position !== 'closed')
    expect((await run('say', register, 'all', 'seen-closed')).exit).toBe(0)

    // From another computer: the keeper's own readings and stories, over the broker.
    const far = await run('tally', register)
    expect(far.out).toMatch(/^0 may be open, .* untested; as the keeper says, /)
    expect(far.out).toMatch(/W01 +Dye room +closed/)
    const here = JSON.parse((await run('tally', register, '--data', data, '--json')).out)
    const there = JSON.parse((await run('tally', register, '--json')).out)
    expect(there.keeperAtWork).toBe(true)
    const plain = ({ mark, position, doubts, openings, sends }: Record<string, unknown>) => ({
      mark,
      position,
      doubts,
      openings,
      sends,
    })
    expect(there.readings.map(plain)).toEqual(here.readings.map(plain))
    // A story comes once what it tells has settled.
    await until('the story', () => json('story/W01')?.openings.length > 0)
    expect((await run('tally', register, '--since', '00:00')).out).toMatch(/W01 +Dye room: opened at /)

    const tally = await run('tally', register, '--data', data)
    expect(tally.out).toMatch(/^0 may be open, 3 not certain, 3 untested; counted since /)
    expect(tally.out).toMatch(/W01 +Dye room +closed/)
    const readings = JSON.parse((await run('tally', register, '--data', data, '--json')).out).readings
    expect(readings).toHaveLength(4)
    expect((await run('tally', register, '--data', data, '--since', '00:00')).out).toMatch(/W01 +Dye room: opened at /)
    expect((await run('tally', register, '--data', data, '--since', '2999-01-01')).out).toMatch(
      /Nothing was heard to open since/,
    )
    expect((await run('tally', register, '--data', data, '--since', 'soon')).exit).toBe(2)

    const lines = join(folder, 'tally.jsonl')
    const table = join(folder, 'tally.csv')
    expect((await run('export', register, '--data', data, '--out', lines)).exit).toBe(0)
    expect((await run('export', register, '--data', data, '--csv', '--out', table)).exit).toBe(0)
    const taken = { exit: 1, err: expect.stringMatching(/is there already: name another file with --out/) }
    expect(await run('export', register, '--data', data, '--csv', '--out', table)).toMatchObject(taken)
    const backup = join(folder, 'backup.sqlite')
    expect((await run('export', register, '--data', data, '--backup', backup)).out).toMatch(/a copy of \d+ entries/)
    expect(statSync(backup).mode & 0o777).toBe(0o640)
    expect(await run('export', register, '--data', data, '--backup', backup)).toMatchObject({
      exit: 1,
      err: expect.stringMatching(/is there already: name another file with --backup/),
    })
    expect(await run('export', register, '--data', data, '--backup', join(folder, 'no', 'b'))).toMatchObject({
      exit: 3,
      err: expect.stringMatching(/b cannot be written: there is no such file or folder/),
    })
    expect((await run('mend', '--data', data)).err).toMatch(/a keeper is at work here/)

    keeper.interrupt()
    expect(await keeper.done).toBe(0)
    await until('the end to be said', () => json('keeper')?.state === 'gone')
    expect((await run('mend', '--data', data)).out).toMatch(/sound, \d+ entries/)

    for (const file of [lines, table]) {
      const copy = `${file}.data`
      expect((await run('import', register, file, '--data', copy)).out).toMatch(
        /(\d+) of \1 entries taken; 0 stood there already/,
      )
      expect((await run('export', register, '--data', copy)).out).toBe(readFileSync(lines, 'utf8'))
      expect((await run('import', register, file, '--data', copy)).out).toMatch(/0 of \d+ entries taken/)
      const { keeperAtWork, readings: again } = JSON.parse((await run('tally', register, '--data', copy, '--json')).out)
      expect(keeperAtWork).toBe(false)
      expect((await run('tally', register, '--data', copy)).out).toMatch(
        /^No keeper is at work on this tally: its last entry is of \w{3} \d{4}-\d\d-\d\d \d\d:\d\d; what came later is not in it\.\n/,
      )
      const bare = (list: { asOf: string; left: unknown; countedSince: unknown }[]) =>
        list.map(({ asOf: _, left: __, countedSince: ___, ...rest }) => rest)
      expect(bare(again)).toEqual(bare(readings))
    }
  })

  it('tells what was kept of all that is said as it comes, also when the keeper ends half way', async () => {
    const keeper = await started()
    let answers = 0
    const spy = linkTo(broker.mqttUrl, {})
    spy.listen(['ropewalk/tally/heard/+'])
    spy.open({ link: () => {}, heard: () => void (++answers === 2 && keeper.interrupt()) })
    const world = fakeWorld()
    const exit = await cli(['say', register, 'all', 'seen-closed'], world)
    await spy.close()
    expect(exit).toBe(3)
    const [together, ...told] = world.said.stdout.trim().split('\n').reverse()
    expect(together).toMatch(/^All of it at once: taken back with: sashtally say .* all undone --undoes \S+$/)
    const kept = told.reverse()
    expect(kept.length).toBeGreaterThanOrEqual(2)
    expect(kept.length).toBeLessThan(4)
    expect(kept[0]).toMatch(/^W01 seen-closed: kept; taken back with: sashtally say .* W01 undone --undoes \S+$/)
    const rest = ['W01', 'W02', 'W03', 'D01'].slice(kept.length).join(', ')
    expect(world.said.stderr).toContain(`not said, or not answered: ${rest}`)
  })

  it('is alone in its folder and in its house', async () => {
    await started()
    const same = await run('keep', register, '--data', data)
    expect(same.exit).toBe(3)
    expect(same.err).toMatch(/a keeper is at work here \(process \d+ since .*one keeper a house; end it first/)
    const other = await run('keep', register, '--data', join(folder, 'other'))
    expect(other.exit).toBe(3)
    expect(other.err).toMatch(
      /another keeper of ropewalk\/tally has been at work since \d{4}-.*one keeper a house; end it first/,
    )
    await hand.publish('ropewalk/w01', 'opened')
    await until('the first one to go on', () => json('opening/W01')?.position === 'open')
  })

  it('begins no new tally where there was one, but on the word of a person', async () => {
    const first = await started()
    await hand.publish('ropewalk/w01', 'opened')
    await until('its reading', () => json('opening/W01')?.openings === 1)
    first.world.interrupt()
    expect(await first.done).toBe(0)
    const other = join(folder, 'other')
    const again = await run('keep', register, '--data', other)
    expect(again.exit).toBe(3)
    expect(again.err).toContain(
      `${other}: there is no tally here, and the broker holds readings of ropewalk/tally (W01), so there was one: name its folder, or put a backup back with \`sashtally mend --data ${other} --backups DIR\`; to begin a new one all the same, add --begin-anew`,
    )
    expect(existsSync(join(other, 'tally.sqlite'))).toBe(false)
    retained.clear()
    const world = fakeWorld()
    const done = cli(['keep', register, '--data', other, '--begin-anew'], world)
    running.push({ done, interrupt: () => world.interrupt() })
    await until('the new count', () => json('opening/W01')?.openings === 0)
  })

  it('takes up an edit, and keeps the last good register through a broken one', async () => {
    const keeper = await started()
    const text = readFileSync(register, 'utf8')
    writeFileSync(register, `${text}  - { mark: W09, name: Porch, sender: coin }\n`)
    await until('the new opening', () => json('opening/W09'))
    await hand.publish('ropewalk/w09', 'opened')
    await until('its word', () => json('opening/W09')?.position === 'open')
    writeFileSync(register, `${text}  - { mark: W01, name: Twice, sender: nobody }\n`)
    await until('the sentence', () => json('keeper')?.problem)
    expect(json('keeper').problem).toMatch(
      /house\.yaml has 2 errors \(seen .*\): the register before it holds; run `sashtally check/,
    )
    expect(json('keeper').state).toBe('live')
    await hand.publish('ropewalk/w02', 'opened')
    await until('a word meanwhile', () => json('opening/W02')?.position === 'open')
    writeFileSync(register, text)
    await until('the topics of what left to be cleared', () => retained.get('ropewalk/tally/opening/W09') === '')
    expect(keeper.world.said.stdout).toMatch(
      /the register was read again: 5 openings[\s\S]*the register was read again: 4 openings/,
    )
  })

  it('says what is wrong before it starts', async () => {
    expect(await run('keep', register)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/give --data <dir>: folder of the tally/),
    })
    const nowhere = join(folder, 'nowhere.yaml')
    writeFileSync(nowhere, HOUSE.replace(/broker: .*\n/, ''))
    expect(await run('keep', nowhere, '--data', data)).toMatchObject({
      exit: 1,
      err: expect.stringMatching(/names no broker/),
    })
    await (await started()).interrupt()
    await running.at(-1)!.done
    const sql = openSqlite(join(data, 'tally.sqlite'), 'write')
    sql.exec('pragma user_version = 9')
    sql.close()
    for (const argv of [
      ['keep', register],
      ['tally', register],
      ['export', register],
    ]) {
      expect(await run(...argv, '--data', data)).toMatchObject({
        exit: 3,
        err: expect.stringMatching(/install the newer sashtally/),
      })
    }
    expect(await run('tally', register, '--data', join(folder, 'none'))).toMatchObject({
      exit: 3,
      err: expect.stringMatching(/no tally here yet/),
    })
    expect(await run('keep', register, '--data', join(folder, 'a', 'b'))).toMatchObject({
      exit: 3,
      err: expect.stringMatching(/the folder cannot be made/),
    })
  })
})

describe('what is said without a keeper', () => {
  let folder: string
  let register: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'sashtally-say-'))
    register = join(folder, 'house.yaml')
    writeFileSync(register, HOUSE)
  })
  afterEach(() => rmSync(folder, { recursive: true, force: true }))
  const run = async (...argv: string[]) => {
    const world = fakeWorld({ now: () => Date.parse('2026-11-25T21:47:00.000Z') })
    return { exit: await cli(argv, world), out: world.said.stdout, err: world.said.stderr }
  }

  it('goes to a tally file or a resting keeper’s folder, by the same rules', async () => {
    for (const place of [
      ['--tally', join(folder, 'tally.jsonl')],
      ['--data', join(folder, 'data')],
    ]) {
      const cell = await run(
        'say',
        register,
        'W01',
        'cell-fitted',
        '--at',
        'Mon 09:00',
        '--millivolts',
        '3210',
        '--batch',
        'B7',
        ...place,
      )
      expect(cell).toMatchObject({
        exit: 0,
        // Whoever has just changed a cell holds the old one.
        err: expect.stringMatching(/swallowed, it kills.*\n.*Tape the poles of the old cell/),
        out: expect.stringMatching(/^W01 cell-fitted Mon \d{4}-\d\d-\d\d 09:00: kept/),
      })
      expect((await run('say', register, 'D01', 'cell-fitted', '--cell', 'CR2032', ...place)).err).toMatch(
        /runs on mains/,
      )
      const flashed = await run('say', register, 'W01', 'flashed', ...place)
      expect(flashed.exit).toBe(0)
      const { readings } = JSON.parse((await run('tally', register, '--json', ...place)).out)
      expect(readings[0]).toMatchObject({
        mark: 'W01',
        sends: 0,
        countedSince: '2026-11-23T09:00:00.000Z',
        doubts: ['untested'],
      })
    }
  })

  it('is refused with what would be right', async () => {
    const place = ['--tally', join(folder, 'tally.jsonl')]
    expect(await run('say', register, 'W99', 'note', ...place)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/no opening "W99"; it has W01, W02, W03, D01/),
    })
    expect(await run('say', register, 'W01', 'opened', ...place)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/<what> wants one of seen-closed/),
    })
    expect(await run('say', register, 'W01', 'seen-closed', '--at', 'soon', ...place)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/--at wants a time such as 17:50, .*; found "soon"/),
    })
    expect(await run('say', register, 'W01', 'note', ...place)).toMatchObject({
      exit: 1,
      err: expect.stringMatching(/a note needs its text in note/),
    })
    for (const [what, ...options] of [
      ['seen-closed', '--cell', 'CR2450'],
      ['seen-closed', '--millivolts', '3100'],
      ['note', '--note', 'x', '--batch', 'B7'],
      ['proved', '--revision', '01234567'],
      ['seen-closed', '--undoes', 'a'],
    ] as const) {
      expect(await run('say', register, 'W01', what, ...options, ...place)).toMatchObject({
        exit: 2,
        err: expect.stringMatching(/--\w+ belongs to [a-z-]+, not to [a-z-]+: leave it out/),
      })
    }
    expect(await run('say', register, 'W01', 'note', '--data', folder, ...place)).toMatchObject({
      exit: 2,
      err: expect.stringMatching(/--tally or --data, not both/),
    })
  })

  it('leaves no timer behind when the link is lost while it is said', async () => {
    const feed: Feed = {
      open: ({ link }) => link({ state: 'live', since: 0, sessionPresent: false }),
      listen: () => {},
      publish: () => Promise.reject(new Error('the link went down')),
      close: async () => {},
    }
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
    try {
      const said = sayOver(feed, 'ropewalk/tally', 'W01', { what: 'seen-closed' }, fakeWorld())
      await expect(said).rejects.toThrow(/W01 seen-closed could not be said: the link went down/)
      expect(vi.getTimerCount()).toBe(0)
    } finally {
      vi.useRealTimers()
    }
  })

  it('to a broker that is not there ends with a sentence', async () => {
    writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', 'mqtt://127.0.0.1:9'))
    expect(await run('say', register, 'W01', 'seen-closed')).toMatchObject({
      exit: 3,
      err: expect.stringMatching(
        /the broker did not answer within 10 s: 127\.0\.0\.1:9: nothing listens there: is the broker running/,
      ),
    })
  })

  it('to a house without a keeper ends with a sentence', async () => {
    const broker = await startBroker()
    try {
      writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
      expect(await run('say', register, 'W01', 'seen-closed')).toMatchObject({
        exit: 3,
        err: expect.stringMatching(/no keeper of ropewalk\/tally answered within 10 s/),
      })
    } finally {
      await broker.close()
    }
  })
})

it('an export that fails half way leaves no half file under its name, and can be tried again', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-export-'))
  try {
    const register = join(folder, 'house.yaml')
    const data = join(folder, 'data')
    writeFileSync(register, HOUSE)
    const store = TallyStore.open(data, 'write', ledgerRules(policyOf(registerOf())))
    for (let part = 0; part < 20; part++) {
      const entries = Array.from({ length: 200 }, (_, n) => ({
        id: `e${part}-${n}`,
        at: new Date(1e12 + n * 6e4).toISOString(),
        mark: 'W01',
        what: 'note' as const,
        how: 'live' as const,
        note: 'x'.repeat(200),
      }))
      store.commitBatch({ entries })
    }
    await store.close()
    const file = join(data, 'tally.sqlite')
    const bytes = readFileSync(file)
    const pages = bytes.length / 4096
    // The first leaf page (0x0D) of the last fifth.
    const page = Array.from({ length: pages }, (_, n) => n).find(n => n > pages * 0.8 && bytes[n * 4096] === 0x0d)!
    bytes.fill(0xee, page * 4096, (page + 1) * 4096)
    writeFileSync(file, bytes)
    for (let attempt = 1; attempt <= 2; attempt++) {
      const world = fakeWorld({ cwd: folder })
      expect(await cli(['export', register, '--data', 'data', '--out', 'out.jsonl'], world)).toBe(3)
      expect(world.said.stderr).toMatch(/sashtally mend/)
    }
    expect(readdirSync(folder).sort()).toEqual(['data', 'house.yaml'])
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
})
