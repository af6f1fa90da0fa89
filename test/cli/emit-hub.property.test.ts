import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { isDeepStrictEqual } from 'node:util'
import fc from 'fast-check'
import { load as loadOther } from 'js-yaml'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { parse } from 'yaml'
import { cli } from '../../src/cli/cli.ts'
import { markersOf } from '../../src/emit/hub/markers.ts'
import { type AnyHub, type AnyOpening, anyHub, MERGED, registerText, shapeValue, TALLY } from '../emit/hub/any-hub.ts'
import { testWorld } from './test-world.ts'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-any-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const file = (name = 'hub.yaml') => readFileSync(join(folder, name), 'utf8')
const write = (name: string, text: string) => writeFileSync(join(folder, name), text)
async function run(...argv: string[]) {
  const world = testWorld({ cwd: folder })
  const exit = await cli(['emit', 'hub', 'house.yaml', ...argv], world)
  return { exit, err: world.err() }
}
const SHORT = ['--into', 'hub.yaml']
const learnBy = ({ openings, numbers }: AnyHub) => [
  '--like',
  'hub.yaml',
  `--mark=${openings[0]!.mark}`,
  ...SHORT,
  ...(numbers.length ? numbers.flatMap(([pointer, field]) => ['--fill', `${pointer}=${field}`]) : []),
]

const { begin, end } = markersOf(TALLY)
/** The bytes outside of the block, and its lines. */
function parted(text: string): { outside: string; block: string } {
  const from = text.lastIndexOf('\n', text.indexOf(begin)) + 1
  const after = text.indexOf('\n', text.indexOf(end))
  const to = after < 0 ? text.length : after + 1
  return { outside: text.slice(0, from) + text.slice(to), block: text.slice(from, to) }
}
/** The block alone as data, as one reader has it. */
function entriesIn(block: string, read: (text: string) => unknown): unknown[] {
  const indent = /^ */.exec(block)![0].length
  const held = read(
    block
      .split(/\r?\n/)
      .map(line => line.slice(indent))
      .join('\n'),
  )
  return Object.values((held ?? {}) as object)
}
const READERS = [
  (text: string) => parse(text),
  (text: string) => parse(text, { version: '1.1' }),
  (text: string) => loadOther(text),
]

test('any hub, any register: only the block changes, each entry holds its own facts, and again changes nothing', async () => {
  await fc.assert(
    fc.asyncProperty(anyHub, fc.constantFrom('contact' as const, 'tally' as const), async (hub, wire) => {
      const openings = hub.openings.slice(0, 4)
      write('house.yaml', registerText(openings))
      write('hub.yaml', hub.text)
      const learn = [...learnBy(hub), '--wire', wire]
      const first = await run(...learn)
      expect([first.exit, first.err]).toEqual([0, expect.stringContaining('is written: 3 entries')])
      const made = file()
      const { outside, block } = parted(made)
      const eol = hub.text.includes('\r\n') ? '\r\n' : '\n'
      expect([hub.text, hub.text + eol]).toContain(outside)

      const isMerged = /<<: \*base/.test(hub.text)
      const wanted = openings.slice(1).map(opening => ({
        ...(shapeValue(hub.entry, opening, wire) as object),
        ...(isMerged && MERGED),
      }))
      for (const read of READERS) expect(entriesIn(block, read)).toEqual(wanted)

      for (const line of [learn, SHORT, [...SHORT, '--check'], [...SHORT, '--wire', wire]]) {
        const again = await run(...line)
        expect([again.exit, again.err.trim().split('\n').length, file()]).toEqual([0, 1, made])
      }
    }),
    { numRuns: 150 },
  )
})

/** What somebody may do to a register; the last four openings of a house are there to be added. */
type Edit = (openings: readonly AnyOpening[], all: readonly AnyOpening[]) => AnyOpening[]
const renamed =
  (which: number): Edit =>
  openings =>
    openings.map((opening, i) => (i === which ? { ...opening, name: `${opening.name} (new)` } : opening))
const EDITS: Readonly<Record<string, Edit>> = {
  'model renamed': renamed(0),
  'another renamed': renamed(1),
  'model removed': openings => openings.slice(1),
  'another removed': openings => openings.slice(0, -1),
  'one added': (openings, all) => [...openings, ...all.slice(4, 5)],
  'three added in front': (openings, all) => [...all.slice(5), ...openings],
  turned: openings => [...openings].reverse(),
  'one moved elsewhere': openings => openings.map((o, i) => (i === 2 ? { ...o, topic: `${o.topic}/new` } : o)),
  'model moved elsewhere': openings => openings.map((o, i) => (i ? o : { ...o, topic: `${o.topic}/new` })),
  'model gets another kind and side': openings =>
    openings.map((o, i) => (i ? o : { ...o, kind: 'sliding', at: { side: 'north', floor: 1 } })),
}
const anyEdits = fc.uniqueArray(fc.constantFrom(...Object.keys(EDITS)), { minLength: 1, maxLength: 3 })

test('any edit of the register: the short command gives the block of a fresh run, --check agrees, and back is back', async () => {
  await fc.assert(
    fc.asyncProperty(
      anyHub,
      anyEdits,
      fc.boolean(),
      fc.boolean(),
      fc.boolean(),
      async (hub, edits, isTally, takesOver, isReworded) => {
        const openings = hub.openings.slice(0, 4)
        write('house.yaml', registerText(openings))
        write('hub.yaml', hub.text)
        const wire = ['--wire', isTally ? 'tally' : 'contact']
        const how = takesOver && !isTally && !hub.text.includes('&n') ? ['--take-over'] : []
        const learn = [...learnBy(hub), ...how]
        expect((await run(...learn, ...wire, '--save-profile', 'p.yaml')).err).toContain('is written')
        const before = file()
        const { outside } = parted(before)

        const edited = edits.reduce((made, name) => EDITS[name]!(made, hub.openings), openings)
        write('house.yaml', registerText(edited, isReworded ? 'dozing' : 'asleep'))
        const check = await run(...SHORT, '--check')
        expect(file()).toBe(before)
        const short = await run(...SHORT)
        expect([short.exit, short.err]).toEqual([0, expect.stringMatching(/is (written|up to date)/)])
        const made = file()
        expect([check.exit, parted(made).outside]).toEqual([made === before ? 0 : 1, outside])
        for (const line of [SHORT, [...SHORT, '--check']])
          expect([(await run(...line)).exit, file()]).toEqual([0, made])

        write('hub.yaml', outside)
        expect((await run('--profile', 'p.yaml', ...SHORT, ...wire)).exit).toBe(0)
        expect(parted(file()).block.trim()).toBe(parted(made).block.trim())

        const [model] = openings as [AnyOpening]
        const isModelsOwn = !edited.some(o => isDeepStrictEqual(o, model)) || (isReworded && model.sender === 'coin')
        if (!isModelsOwn) {
          write('hub.yaml', hub.text)
          expect((await run(...learn, ...wire)).exit).toBe(0)
          expect(parted(file()).block.trim()).toBe(parted(made).block.trim())
        }

        // The long command again spreads no old fact of the model.
        write('hub.yaml', made)
        await run(...learn)
        expect(file()).toBe(made)

        write('house.yaml', registerText(openings))
        await run(...SHORT)
        expect(file()).toBe(before)
      },
    ),
    { numRuns: 100 },
  )
})

test('an entry that is taken over leaves the file as it was, but for its own lines', async () => {
  await fc.assert(
    fc.asyncProperty(anyHub, async hub => {
      const openings = hub.openings.slice(0, 4)
      write('house.yaml', registerText(openings))
      write('hub.yaml', hub.text)
      const { exit, err } = await run(...learnBy(hub), '--take-over')
      expect([exit, err]).toEqual([0, expect.stringContaining('is written: 4 entries')])
      const { outside, block } = parted(file())
      const isMerged = /<<: \*base/.test(hub.text)
      const wanted = openings.map(opening => ({
        ...(shapeValue(hub.entry, opening, 'contact') as object),
        ...(isMerged && MERGED),
      }))
      expect(entriesIn(block, parse)).toEqual(wanted)
      // What is left is the old file without some whole lines in one run.
      const [was, is] = [hub.text, outside].map(text => text.replace('\uFEFF', '').split(/(?<=\n)/))
      let head = 0
      while (head < is!.length && is![head] === was![head]) head++
      const tail = is!.slice(head).join('')
      expect(hub.text.endsWith(tail) || `${hub.text}\n`.endsWith(tail) || `${hub.text}\r\n`.endsWith(tail)).toBe(true)
      const again = file()
      for (const line of [[...learnBy(hub), '--take-over'], SHORT])
        expect([(await run(...line)).exit, file()]).toEqual([0, again])
    }),
    { numRuns: 100 },
  )
})

test('several documents are refused, and the file stays', async () => {
  await fc.assert(
    fc.asyncProperty(anyHub, async hub => {
      const text = `${hub.text}${hub.text.endsWith('\n') ? '' : '\n'}---\nmore: 1\n`
      write('house.yaml', registerText(hub.openings.slice(0, 4)))
      write('hub.yaml', text)
      const { exit, err } = await run(...learnBy(hub))
      expect([exit, file(), err]).toEqual([1, text, expect.stringContaining('[several-documents]')])
    }),
    { numRuns: 30 },
  )
})
