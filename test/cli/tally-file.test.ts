import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { appendTallyFile, readTallyFile } from '../../src/cli/store/tally-file.ts'
import { EXIT, Stop } from '../../src/cli/world.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { testWorld } from './test-world.ts'

let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-tally-'))
})
afterEach(() => rm(folder, { recursive: true, force: true }))

const entry = (id: string, part: Partial<Entry> = {}): Entry => ({
  id,
  at: '2026-11-25T18:02:00.000Z',
  mark: 'W02',
  what: 'opened',
  how: 'live',
  ...part,
})
const file = (): string => join(folder, 'tally.jsonl')
const world = () => testWorld({ cwd: folder })
const stopped = async (promise: Promise<unknown>): Promise<Stop> => {
  const error = await promise.then(
    () => undefined,
    (thrown: unknown) => thrown,
  )
  if (!(error instanceof Stop)) throw new Error(`no stop but ${String(error)}`)
  return error
}

describe('reading', () => {
  it('gives back what was appended, in order, an id that stands twice once', async () => {
    const entries = [entry('a'), entry('b', { what: 'proved', text: 'bench', joinMilliseconds: 3900 }), entry('c')]
    await appendTallyFile('tally.jsonl', entries.slice(0, 2), world())
    await appendTallyFile('tally.jsonl', [entries[2]!, entries[0]!], world())
    expect(await readTallyFile('tally.jsonl', world())).toEqual(entries)
  })

  it('names every bad line with its number and reason, and gives nothing', async () => {
    const lines = [
      JSON.stringify(entry('a')),
      '{ "id": "b" ',
      JSON.stringify({ ...entry('c'), what: 'ajar', at: 'yesterday' }),
      '',
      JSON.stringify({ ...entry('d'), send: 2 }),
      JSON.stringify({ ...entry('e'), sends: -1 }),
      '[1]',
      JSON.stringify({ ...entry('f'), what: 'undone' }),
      JSON.stringify({ ...entry('g'), until: '2026-11-25T18:01:00.000Z' }),
      JSON.stringify({ ...entry('h'), cell: { type: 'CR2032', volts: 3 } }),
    ]
    await writeFile(file(), `${lines.join('\n')}\n`)
    const there = world()
    const stop = await stopped(readTallyFile('tally.jsonl', there))
    expect(stop.exit).toBe(EXIT.input)
    expect(stop.message).toMatch(/8 lines are no entry/)
    const said = there.err()
    expect(said).toMatch(/tally\.jsonl:2 {2}not JSON/)
    expect(said).toMatch(
      /:3 {2}at must be a UTC time.* \(found "yesterday"\); what must be one of opened, rest.* \(found "ajar"\)/,
    )
    expect(said).toMatch(/:5 {2}send is no field/)
    expect(said).toMatch(/:6 {2}sends must be a whole number/)
    expect(said).toMatch(/:7 {2}an entry must be a JSON object \(found a list\)/)
    expect(said).toMatch(/:8 {2}undone needs undoes/)
    expect(said).toMatch(/:9 {2}until must not be before at/)
    expect(said).toMatch(/:10 {2}cell.volts is no field/)
    expect(said.split('\n')).toHaveLength(9)
  })

  it('refuses what a person said of the future, a minute of clock difference allowed, and names the line', async () => {
    const fitted = (id: string, at: string, how: Entry['how'] = 'said') =>
      JSON.stringify(entry(id, { what: 'cell-fitted', how, at, cell: { type: 'CR2032' } }))
    const now = world().now()
    const soon = new Date(now + 50_000).toISOString()
    await writeFile(file(), `${fitted('a', soon)}\n${fitted('b', '2099-01-01T00:00:00.000Z')}\n`)
    const there = world()
    expect((await stopped(readTallyFile('tally.jsonl', there))).exit).toBe(EXIT.input)
    expect(there.err()).toMatch(
      /^tally\.jsonl:2 {2}at lies in the future: 2099-01-01T00:00:00\.000Z, and the clock here says/,
    )
    // A keeper's clock may have been wrong: what it heard counts in its order.
    await writeFile(file(), `${fitted('a', soon)}\n${fitted('b', '2099-01-01T00:00:00.000Z', 'live')}\n`)
    expect(await readTallyFile('tally.jsonl', world())).toHaveLength(2)
  })

  it('refuses days that do not exist', async () => {
    const lines = [
      '2026-02-30T08:00:00.000Z',
      '2025-02-29T08:00:00Z',
      '2026-11-25T24:00:00.000Z',
      '2024-02-29T08:00:00Z',
    ]
    await writeFile(file(), lines.map((at, index) => `${JSON.stringify(entry(String(index), { at }))}\n`).join(''))
    const there = world()
    await stopped(readTallyFile('tally.jsonl', there))
    expect(there.err().split('\n')).toHaveLength(4)
    expect(there.err()).toMatch(/:1 {2}at must be a UTC time of the calendar .* \(found "2026-02-30/)
  })

  it('compares times as times: with and without milliseconds', async () => {
    const queued = entry('a', { how: 'queued', at: '2026-11-25T18:02:00Z', until: '2026-11-25T18:02:00.000Z' })
    await writeFile(file(), `${JSON.stringify(queued)}\n`)
    expect(await readTallyFile('tally.jsonl', world())).toEqual([queued])
  })

  it('leaves out a last line that was cut off, and says so', async () => {
    await writeFile(file(), `${JSON.stringify(entry('a'))}\n{"id":"b","at":"2026-11`)
    const there = world()
    expect(await readTallyFile('tally.jsonl', there)).toEqual([entry('a')])
    expect(there.err()).toMatch(/cut off/)
  })

  it('a missing file is a failure of the world unless it may be missing', async () => {
    expect((await stopped(readTallyFile('none.jsonl', world()))).exit).toBe(EXIT.world)
    expect(await readTallyFile('none.jsonl', world(), { mayBeMissing: true })).toEqual([])
  })

  it('bytes that are no text are refused', async () => {
    await writeFile(file(), Buffer.from([0xff, 0xfe, 0x0a]))
    expect((await stopped(readTallyFile('tally.jsonl', world()))).message).toMatch(/not UTF-8/)
  })

  it('control characters in a bad line do not reach the terminal', async () => {
    await writeFile(file(), '{"id":"a","\\u001b[31m":1}\n')
    const there = world()
    await stopped(readTallyFile('tally.jsonl', there))
    expect(there.err()).not.toContain('\u001b')
  })
})

describe('appending', () => {
  it('a store cut at any byte keeps every whole entry, and the next one is whole', async () => {
    const before = [entry('a'), entry('b'), entry('c')]
    const text = before.map(e => `${JSON.stringify(e)}\n`).join('')
    for (let cut = 0; cut <= text.length; cut += 7) {
      await writeFile(file(), text.slice(0, cut))
      const whole = await readTallyFile('tally.jsonl', world())
      await appendTallyFile('tally.jsonl', [entry('next')], world())
      expect(await readTallyFile('tally.jsonl', world())).toEqual([...whole, entry('next')])
      expect((await readFile(file(), 'utf8')).endsWith('\n')).toBe(true)
    }
  })

  it('what was cut off is moved to a file beside, and nothing is lost', async () => {
    const whole = `${JSON.stringify(entry('a'))}\n`
    for (const torn of ['{"id":"b","note":"Ada says', '{"id":"c"']) {
      await writeFile(file(), whole + torn)
      const there = world()
      await appendTallyFile('tally.jsonl', [entry('next')], there)
      expect(await readFile(file(), 'utf8')).toBe(`${whole}${JSON.stringify(entry('next'))}\n`)
      expect(there.err()).toBe(
        'tally.jsonl: its last line was cut off while it was written, and stands in tally.jsonl.cut-off now\n',
      )
    }
    expect(await readFile(join(folder, 'tally.jsonl.cut-off'), 'utf8')).toBe('{"id":"b","note":"Ada says\n{"id":"c"\n')
  })

  it('a file that is no tally is left as it is', async () => {
    for (const other of [
      'house: Ropewalk Studios\nopenings: []',
      'house: Ropewalk Studios',
      'a\nb\n',
      '{ "v": 1 }\n',
    ]) {
      await writeFile(file(), other)
      expect((await stopped(appendTallyFile('tally.jsonl', [entry('a')], world()))).message).toMatch(/no tally/)
      expect(await readFile(file(), 'utf8')).toBe(other)
    }
  })

  it('an entry that could not be read back is not written', async () => {
    await expect(appendTallyFile('tally.jsonl', [entry('a', { at: 'now' })], world())).rejects.toThrow(
      /entry a: at must be/,
    )
    expect(await readTallyFile('tally.jsonl', world(), { mayBeMissing: true })).toEqual([])
  })

  it('a folder that is not there is a failure of the world', async () => {
    expect((await stopped(appendTallyFile('no/such/tally.jsonl', [entry('a')], world()))).exit).toBe(EXIT.world)
  })
})
