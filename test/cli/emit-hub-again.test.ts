import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import { cli } from '../../src/cli/cli.ts'
import { PLAIN_WORDS } from '../../src/protocol/plain.ts'
import { testWorld } from './test-world.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-hub-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

const file = (name: string) => readFileSync(join(folder, name), 'utf8')
const write = (name: string, text: string) => writeFileSync(join(folder, name), text)
async function run(...argv: string[]) {
  const world = testWorld({ cwd: folder })
  const exit = await cli(['emit', 'hub', 'house.yaml', ...argv], world)
  return { exit, out: world.out(), err: world.err() }
}

const REGISTER = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan' }
tally: house/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: open, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: Office, room: Office, kind: sash, sender: coin, at: { side: south, floor: 1 } }
  - { mark: W02, name: Kitchen, room: Kitchen, kind: window, sender: coin, at: { side: north, floor: 0 } }
  - { mark: D01, name: Yard door, room: Passage, kind: door, sender: yard, at: { side: east, floor: 0 } }
`

const HUB = `ears:
  # by hand
  - heading: Office
    source: 'mqtt:house/w01'
    rule: "word == 'open'"
    rest: asleep
    patience: 2   # mine
lamps: [hall]
`
const LEARN = ['--like', 'hub.yaml', '--mark', 'W01', '--into', 'hub.yaml']
const SHORT = ['--into', 'hub.yaml']
const NAMED = REGISTER.replace('W01, name: Office', 'W01, name: Bureau')
const ears = () => parse(file('hub.yaml')).ears as Record<string, unknown>[]
const lines = (text: string) => text.trim().split('\n')
beforeEach(() => {
  write('house.yaml', REGISTER)
  write('hub.yaml', HUB)
})

describe('the block keeps its profile', () => {
  test('in comment lines that hold nothing of the model’s, and one short command makes it again', async () => {
    const learned = await run(...LEARN)
    expect([learned.exit, learned.out]).toEqual([0, ''])
    const block = file('hub.yaml').slice(file('hub.yaml').indexOf('# sashtally'))
    expect(block).not.toMatch(/Office|w01|W01/)
    expect(block).toContain('  # wire: contact\n')
    const after = file('hub.yaml')
    const again = await run(...SHORT)
    expect([again.exit, again.out, file('hub.yaml')]).toEqual([0, '', after])
    expect(lines(again.err)).toEqual([
      'hub.yaml is up to date: 2 entries at /ears, wired to the contacts themselves; by hand: W01 (line 3).',
    ])
    expect((await run(...LEARN)).err).toBe(again.err)
    expect((await run(...SHORT, '--check')).err).toBe(again.err)
  })

  test.each([
    ['another opening renamed', (text: string) => text.replace('name: Kitchen', 'name: Galley')],
    ['the model renamed', (text: string) => text.replace('W01, name: Office', 'W01, name: Bureau')],
    ['the model removed', (text: string) => text.replace(/ {2}- \{ mark: W01.*\n/, '')],
    ['all but the model removed', (text: string) => text.replace(/ {2}- \{ mark: (?!W01).*\n/g, '')],
    ['another order', (text: string) => text.replace(/( {2}- \{ mark: W01.*\n)( {2}- \{ mark: W02.*\n)/, '$2$1')],
    ['one more', (text: string) => `${text}  - { mark: W09, name: Loft, sender: coin }\n`],
    ['another word', (text: string) => text.replace('rest: asleep', 'rest: dozing')],
  ])('%s: the short command gives what a fresh run gives, and --check agrees', async (_name, edit) => {
    await run(...LEARN, '--save-profile', 'p.yaml')
    write('house.yaml', edit(REGISTER))
    const before = file('hub.yaml')
    const check = await run(...SHORT, '--check')
    expect(file('hub.yaml')).toBe(before)
    expect((await run(...SHORT)).exit).toBe(0)
    const short = file('hub.yaml')
    expect(check.exit).toBe(short === before ? 0 : 1)
    expect((await run(...SHORT, '--check')).exit).toBe(0)
    write('hub.yaml', HUB)
    expect((await run('--profile', 'p.yaml', ...SHORT)).exit).toBe(0)
    expect(short).toBe(file('hub.yaml'))
    write('house.yaml', REGISTER)
    await run(...SHORT)
    expect(file('hub.yaml')).toBe(before)
  })

  test('a renamed model’s old label is told where its entry stands, and is not learned again', async () => {
    await run(...LEARN)
    const before = file('hub.yaml')
    write('house.yaml', NAMED)
    const refused = await run(...LEARN)
    expect([refused.exit, file('hub.yaml')]).toEqual([1, before])
    expect(refused.err).toMatch(/does not hold its name \("Bureau"; in the block at \/heading\) any more/)
    expect(refused.err).toContain('sashtally emit hub house.yaml --into hub.yaml')
    const short = await run(...SHORT)
    expect(short.err).toContain('by hand: W01 (line 3, differs at /heading)')
    expect(file('hub.yaml')).toBe(before)
    const settled = await run(...LEARN, '--fill', '/heading=name')
    expect([settled.exit, file('hub.yaml')]).toEqual([0, before])
  })

  test('an entry brought up to date by hand is learned as before', async () => {
    await run(...LEARN)
    const before = file('hub.yaml')
    write('house.yaml', NAMED)
    write('hub.yaml', before.replace('heading: Office', 'heading: Bureau'))
    expect((await run(...LEARN)).exit).toBe(0)
    expect(file('hub.yaml')).toBe(before.replace('heading: Office', 'heading: Bureau'))
  })

  test('lines that somebody edited are told, and a profile or an example mends them', async () => {
    await run(...LEARN, '--save-profile', 'p.yaml')
    const good = file('hub.yaml')
    const bad = good.replace('"/heading": "name"', '"/heading": "nam"')
    write('hub.yaml', bad)
    const { exit, err } = await run(...SHORT)
    expect([exit, file('hub.yaml')]).toEqual([1, bad])
    expect(err).toMatch(/comment lines of the block .*did you mean name\?/)
    await run('--profile', 'p.yaml', ...SHORT)
    expect(file('hub.yaml')).toBe(good)
  })

  test('line ends of Windows and a byte-order mark are no hindrance', async () => {
    write('hub.yaml', `\uFEFF${HUB.replaceAll('\n', '\r\n')}`)
    await run(...LEARN)
    const after = file('hub.yaml')
    expect(after).not.toMatch(/[^\r]\n/)
    expect((await run(...SHORT)).exit).toBe(0)
    expect(file('hub.yaml')).toBe(after)
  })
})

describe('the wire', () => {
  test('is kept too, and changes everywhere at once', async () => {
    await run(...LEARN)
    const contact = file('hub.yaml')
    expect((await run(...SHORT, '--wire', 'tally')).exit).toBe(0)
    expect(ears()[1]).toEqual({
      heading: 'Kitchen',
      source: 'mqtt:house/tally/plain/W02',
      rule: `word == '${PLAIN_WORDS[0]}'`,
      rest: PLAIN_WORDS[1],
      patience: 2,
    })
    const tally = file('hub.yaml')
    await run(...SHORT)
    expect(file('hub.yaml')).toBe(tally)
    write('house.yaml', REGISTER.replace('name: Kitchen', 'name: Galley'))
    await run(...SHORT)
    expect(file('hub.yaml')).toBe(tally.replace('heading: "Kitchen"', 'heading: "Galley"'))
    write('house.yaml', REGISTER)
    await run(...SHORT, '--wire', 'contact')
    expect(file('hub.yaml')).toBe(contact)
  })

  test('tells that a third word exists, where the hub is given none', async () => {
    expect((await run(...LEARN, '--wire', 'tally')).err).toMatch(/says a third word, /)
    write(
      'hub.yaml',
      `ears:\n  - { heading: Yard door, source: house/d01, rule: "it is 'ajar'", rest: shut, third: lost }\n`,
    )
    const known = await run('--like', 'hub.yaml', '--mark', 'D01', ...SHORT, '--wire', 'tally')
    expect(known.err).not.toMatch(/third word/)
    expect(ears()[1]).toMatchObject({ rest: PLAIN_WORDS[1], third: PLAIN_WORDS[2] })
  })

  test('is not changed where a word of the contacts would stay behind', async () => {
    write('house.yaml', REGISTER.replace(/ {2}- \{ mark: D01.*\n/, ''))
    write('hub.yaml', HUB.replace('patience: 2', 'hint: tell me when open'))
    expect((await run(...LEARN)).exit).toBe(0)
    const before = file('hub.yaml')
    const refused = await run(...SHORT, '--wire', 'tally')
    expect([refused.exit, file('hub.yaml')]).toEqual([1, before])
    expect(refused.err).toMatch(/\/hint holds "tell me when open".*--fill \/hint=/)
    expect((await run(...SHORT, '--wire', 'tally', '--fill', '/hint=')).exit).toBe(0)
    expect((await run(...SHORT)).err).toMatch(/up to date/)
    expect(ears()[1]).toMatchObject({ hint: 'tell me when open', rest: PLAIN_WORDS[1] })
  })
})

describe('--take-over', () => {
  test('moves the entry written by hand into the block, and the same command again changes nothing', async () => {
    const line = [...LEARN, '--take-over']
    const { exit, err } = await run(...line)
    expect(exit).toBe(0)
    expect(err).toMatch(/3 entries at \/ears, wired to the contacts themselves\.\n/)
    expect(err).toMatch(/Taken over into the block.*W01/)
    expect(ears().map(({ heading }) => heading)).toEqual(['Office', 'Kitchen', 'Yard door'])
    const after = file('hub.yaml')
    expect(after.replace(/ *# sashtally[\s\S]*: end\n/, '')).toBe('ears:\n  # by hand\nlamps: [hall]\n')
    expect([(await run(...line)).exit, file('hub.yaml')]).toEqual([0, after])
    expect([(await run(...SHORT)).exit, file('hub.yaml')]).toEqual([0, after])
    write('house.yaml', NAMED)
    await run(...SHORT, '--wire', 'tally')
    expect(ears()[0]).toMatchObject({ heading: 'Bureau', source: 'mqtt:house/tally/plain/W01' })
  })

  test('leaves what is not the same, and says where it differs', async () => {
    write('hub.yaml', HUB.replace('lamps', '  - { heading: Galley, source: "mqtt:house/w02" }\nlamps'))
    const { exit, err } = await run(...LEARN, '--take-over')
    expect(exit).toBe(0)
    expect(err).toMatch(/by hand: W02 \(line 8, differs at \/heading, \/rule, \/rest, \/patience\)/)
    expect(ears().map(({ heading }) => heading)).toEqual(['Galley', 'Office', 'Yard door'])
  })

  test('writes nothing where none is the same, or where it cannot be taken out alone', async () => {
    const tally = await run(...LEARN, '--take-over', '--wire', 'tally')
    expect([tally.exit, file('hub.yaml')]).toEqual([1, HUB])
    expect(tally.err).toMatch(/not the same as the made ones.*W01 \(line 3, differs at \/source, \/rule, \/rest\)/)
    const anchored = HUB.replace('- heading: Office', '- heading: &o Office').replace('[hall]', '[*o]')
    write('hub.yaml', anchored)
    const refused = await run(...LEARN, '--take-over')
    expect([refused.exit, file('hub.yaml')]).toEqual([1, anchored])
    expect(refused.err).toMatch(/W01 \(line 3\) cannot be taken out/)
  })

  test('leaves an empty place to the block when the last opening goes', async () => {
    await run(...LEARN, '--take-over')
    write('house.yaml', REGISTER.replace(/ {2}- \{ mark: [WD].*\n/g, '').replace('openings:', 'openings: []'))
    expect((await run(...SHORT)).exit).toBe(0)
    expect(ears()).toEqual([])
    write('house.yaml', REGISTER)
    await run(...SHORT)
    expect(ears()).toHaveLength(3)
  })

  test('works in a map, at the end of a file, in a list at its root', async () => {
    for (const [text, before] of [
      ['ears:\n    W01:\n        hark: house/w01\n        deep: [open]', 'ears:\n'],
      ['- hark: house/w01', ''],
      ['# top\n- &a\n  hark: house/w01\n# tail\n', '# top\n# tail\n'],
    ] as const) {
      write('hub.yaml', text)
      const { exit, err } = await run(...LEARN, '--take-over')
      expect(err).toMatch(/is written: 3 entries/)
      expect([exit, file('hub.yaml').replace(/ *# sashtally[\s\S]*: end\n?/, '')]).toEqual([0, before])
      const after = file('hub.yaml')
      await run(...SHORT)
      expect(file('hub.yaml')).toBe(after)
    }
  })
})

describe('what is said', () => {
  test('the line that matters comes first, what was learned after it, and later that line alone', async () => {
    const first = await run(...LEARN)
    expect(lines(first.err).slice(0, 7)).toEqual([
      'hub.yaml is written: 2 entries at /ears, wired to the contacts themselves; by hand: W01 (line 3).',
      'Learned from the entry for W01 in hub.yaml:',
      '  /heading  name',
      "  /source   [{ text: 'mqtt:' }, topic]",
      `  /rule     [{ text: 'word == ''' }, opened, { text: '''' }]`,
      '  /rest     rest',
      '  the same in every entry: /patience',
    ])
    write('house.yaml', REGISTER.replace('name: Kitchen', 'name: Galley'))
    const later = await run(...SHORT)
    expect(lines(later.err)).toEqual([
      'hub.yaml is written: 2 entries at /ears (1 new or changed), wired to the contacts themselves; by hand: W01 (line 3).',
    ])
    write('house.yaml', REGISTER.replace(/ {2}- \{ mark: W02.*\n/, ''))
    expect((await run(...SHORT)).err).toMatch(/1 entry at \/ears \(1 gone\)/)
  })

  test('an edit that gives two openings one label is told', async () => {
    await run(...LEARN)
    write('house.yaml', REGISTER.replace('name: Yard door', 'name: Kitchen'))
    const { exit, err } = await run(...SHORT)
    expect(exit).toBe(0)
    expect(err).toMatch(/W02, D01 have the same text at \/heading, "Kitchen"/)
    expect((await run(...SHORT)).err).not.toMatch(/same text/)
  })
})

test('side and kind are found, a floor is asked about, and a text takes every fact in it', async () => {
  write(
    'hub.yaml',
    `ears:\n  - say: 'Office (W01) is open: house/w01 said open'\n    face: south\n    form: sash\n    storey: 1\n`,
  )
  const asked = await run(...LEARN)
  expect(asked.exit).toBe(1)
  expect(asked.err).toMatch(/--fill \/storey=floor/)
  expect((await run(...LEARN, '--fill', '/storey=floor')).exit).toBe(0)
  expect(ears().slice(1)).toEqual([
    { say: 'Kitchen (W02) is open: house/w02 said open', face: 'north', form: 'window', storey: 0 },
    { say: 'Yard door (D01) is ajar: house/d01 said ajar', face: 'east', form: 'door', storey: 0 },
  ])
})
