import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { openedByStories, sinceText } from '../../src/cli/tally/opened-since.ts'
import { type Broker, type BrokerOptions, startBroker } from '../../src/link/broker.ts'
import type { KeeperNote } from '../../src/protocol/keeper-note.ts'
import type { ReadingNote } from '../../src/protocol/reading.ts'
import type { StoryNote } from '../../src/protocol/story.ts'
import { registerOf } from '../emit/houses.ts'
import { listenTo } from '../support/ear.ts'
import { misfits } from '../support/json-output.ts'
import { fakeWorld } from '../support/world.ts'

const house = (url: string) => `house: Ropewalk Studios
timezone: UTC
broker: { mqtt: '${url}' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Shop, sender: coin }
`
const NOW = Date.parse('2026-05-01T20:00:00.000Z')
const AT = '2026-05-01T19:59:50.000Z'
const reading = (mark: string, openings = 1): ReadingNote => ({
  ...{ v: 1, mark, name: mark, position: 'closed', since: '2026-05-01T08:00:00.000Z', doubts: [] },
  ...{ openings, sends: 1, asOf: '2026-05-01T08:00:00.000Z' },
})
const story = (mark: string, ...openings: string[]): StoryNote => ({
  ...{ v: 1, mark, months: [], cells: [] },
  openings: openings.map(time => [time] as const),
})
const note = (more: Partial<KeeperNote> = {}): KeeperNote => ({ v: 1, state: 'live', beat: AT, since: AT, ...more })
const SINCE = '2026-05-01 06:00'

describe('tally without a folder asks the broker', () => {
  let broker: Broker
  let folder: string
  const begin = async (options: BrokerOptions = {}) => {
    broker = await startBroker(options)
    await writeFile(join(folder, 'house.yaml'), house(broker.mqttUrl))
  }
  const publish = async (notes: Readonly<Record<string, unknown>>) => {
    const keeper = listenTo({ url: broker.mqttUrl })
    await keeper.live()
    for (const [topic, each] of Object.entries(notes))
      await keeper.feed.publish(`ropewalk/tally/${topic}`, JSON.stringify(each), { qos: 1, retain: true })
    await keeper.feed.close()
  }
  const tally = async (...argv: string[]) => {
    const world = fakeWorld({ cwd: folder, now: () => NOW })
    return { exit: await cli(['tally', 'house.yaml', ...argv], world), ...world.said }
  }
  const both = {
    'opening/W01': reading('W01'),
    'opening/W02': reading('W02'),
    'story/W01': story('W01', '2026-05-01T05:00:00.000Z'),
    'story/W02': story('W02', '2026-05-01T05:00:00.000Z'),
  }
  beforeEach(async () => {
    folder = await mkdtemp(join(tmpdir(), 'sashtally-far-'))
  })
  afterEach(async () => {
    await broker?.close()
    await rm(folder, { recursive: true, force: true })
  })

  test('a keeper that stands still is not at work, and its problem is said first', async () => {
    await begin()
    await publish({ ...both, keeper: note({ state: 'broken', problem: 'entries cannot be kept: the disk is full' }) })
    const { exit, stdout } = await tally()
    expect(exit).toBe(0)
    expect(stdout).toMatch(/^The keeper says: entries cannot be kept: the disk is full\.\n/)
    // Its beat is of 19:59; its readings are not.
    expect(stdout).toMatch(/No keeper is at work at this broker: this was said Fri 2026-05-01 08:00; what came later/)
    for (const more of [[], ['--since', SINCE]]) {
      const json = (await tally(...more, '--json')).stdout
      expect(JSON.parse(json)).toMatchObject({ keeperAtWork: false, problem: expect.stringMatching(/disk is full/) })
      expect(misfits('tally', json)).toEqual([])
    }
  })

  test.each([
    ['its own last word', { state: 'gone', beat: '2026-05-01T12:43:00.000Z' }, '12:43'],
    ['a last will, which has the time of its start', { state: 'gone', beat: '2026-05-01T05:00:00.000Z' }, '08:00'],
    ['no word for long', { beat: '2026-05-01T12:43:00.000Z' }, '12:43'],
  ] as const)(
    'a keeper that ended was last known to live by the later of its readings and %s',
    async (_, how, time) => {
      await begin()
      await publish({ ...both, keeper: note(how) })
      const { stdout } = await tally()
      expect(stdout).toContain(
        `No keeper is at work at this broker: the last sign of life is of Fri 2026-05-01 ${time}; `,
      )
    },
  )

  test('a keeper that kept nothing and ended has nothing newer than its readings', async () => {
    await begin()
    const ended = note({ state: 'gone', problem: 'the disk is full', problems: [{ code: 'not-kept' }] })
    await publish({ ...both, keeper: ended })
    expect((await tally()).stdout).toContain('this was said Fri 2026-05-01 08:00; ')
  })

  test('what is wrong with a keeper at work is said too', async () => {
    await begin()
    await publish({ ...both, keeper: note({ problem: 'words were missed' }) })
    const { stdout } = await tally()
    expect(stdout).toMatch(/^The keeper says: words were missed\.\n\n0 may be open, 0 not certain/)
    expect((await tally('--since', SINCE)).stdout).toMatch(
      /^The keeper says: words were missed\.\n\nNothing was heard to open since Fri 2026-05-01 06:00\. /,
    )
  })

  test('an opening of which nothing is published has a row, and is not certain', async () => {
    await begin()
    await publish({ keeper: note(), 'opening/W01': reading('W01') })
    const { exit, stdout } = await tally()
    expect(exit).toBe(0)
    expect(stdout).toMatch(/^0 may be open, 1 not certain/)
    expect(stdout).toMatch(/W02 +Shop +nothing published/)
    const json = (await tally('--json')).stdout
    expect(JSON.parse(json)).toMatchObject({ unpublished: ['W02'], readings: [{ mark: 'W01' }] })
    expect(misfits('tally', json)).toEqual([])
  })

  test('whether an opening without a story was opened is not known', async () => {
    await begin()
    const { 'story/W02': _, ...one } = both
    await publish({ keeper: note(), ...one })
    const { exit, stdout } = await tally('--since', SINCE)
    expect(exit).toBe(0)
    expect(stdout).toMatch(/of the openings whose story came\. .*\nW02 +Shop: not known/)
    const json = (await tally('--since', SINCE, '--json')).stdout
    expect(JSON.parse(json)).toMatchObject({ opened: [], unknown: ['W02'] })
    expect(misfits('tally', json)).toEqual([])
  })

  test('without any story nothing is told of a time', async () => {
    await begin()
    await publish({ keeper: note(), 'opening/W01': reading('W01'), 'opening/W02': reading('W02') })
    const { exit, stdout, stderr } = await tally('--since', SINCE)
    expect({ exit, stdout }).toEqual({ exit: 3, stdout: '' })
    expect(stderr).toMatch(/no keeper has published a story at ropewalk\/tally/)
  })

  test('an account that may read a part is told what the broker refuses', async () => {
    await begin({ authorize: (act, topic) => act === 'publish' || !topic.includes('/story/') })
    await publish({ ...both, keeper: note() })
    const { exit, stdout } = await tally()
    expect(exit).toBe(0)
    expect(stdout).toMatch(/^Something may be missing here: the broker refuses: /)
    expect(stdout).toMatch(/W02 +Shop +closed/)
    const since = await tally('--since', SINCE)
    expect(since.exit).toBe(3)
    expect(since.stderr).toMatch(/the broker refuses: .*story/)
  })
})

describe('what opened by the stories', () => {
  const register = registerOf(house('mqtt://broker.lan'))
  const since = Date.parse('2026-05-01T06:00:00.000Z')
  const hours = (count: number) =>
    Array.from({ length: count }, (_, n) => new Date(Date.parse('2026-05-01T07:00:00.000Z') + n * 60_000).toISOString())
  const told = (openings: readonly string[], readings: readonly ReadingNote[]) =>
    openedByStories(register, { readings, stories: new Map([['W01', story('W01', ...openings)]]) }, since)

  test('is at least so much where the story goes no further back', () => {
    expect(told(hours(40), [reading('W01', 57)]).opened[0]).toMatchObject({ openings: 40, atLeast: true })
    expect(told(hours(40), [reading('W01', 40)]).opened[0]).not.toHaveProperty('atLeast')
    const older = ['2026-05-01T05:00:00.000Z', ...hours(39)]
    expect(told(older, [reading('W01', 57)]).opened[0]).toMatchObject({ openings: 39 })
    expect(told(older, [reading('W01', 57)]).opened[0]).not.toHaveProperty('atLeast')
    expect(told(hours(40), []).opened[0], 'without a reading').toMatchObject({ atLeast: true })
  })

  test('has both ends of a time of which only these are known, and what may be one word twice', () => {
    const waited: StoryNote = {
      ...story('W01'),
      openings: [
        ['2026-05-01T07:00:00.000Z', '2026-05-01T07:29:00.000Z'],
        ['2026-05-01T08:00:00.000Z', '2026-05-01T08:29:00.000Z', '2026-05-01T09:00:00.000Z'],
        ['2026-05-01T10:00:00.000Z', '2026-05-01T11:00:00.000Z'],
      ],
      notBefore: ['2026-05-01T10:00:00.000Z'],
      maybeAgain: ['2026-05-01T08:00:00.000Z', '2026-05-01T10:00:00.000Z'],
    }
    const by = (one: StoryNote) =>
      openedByStories(register, { readings: [], stories: new Map([['W01', one]]) }, since).opened
    const two = by({ ...waited, openings: waited.openings.slice(0, 2) })
    expect(two).toMatchObject([
      {
        ...{ firstFrom: '2026-05-01T07:00:00.000Z', first: '2026-05-01T07:29:00.000Z' },
        ...{ lastFrom: '2026-05-01T08:00:00.000Z', last: '2026-05-01T08:29:00.000Z', maybeAgain: 1 },
      },
    ])
    expect(sinceText(two, since, register)).toMatch(
      /opened 2 times, the first between Fri 2026-05-01 07:00 and Fri 2026-05-01 07:29, the last between Fri 2026-05-01 08:00 and Fri 2026-05-01 08:29 \(1 of them perhaps the same/,
    )
    const [three] = by(waited)
    expect(three).toMatchObject({ last: '2026-05-01T10:00:00.000Z', lastNotBefore: true, maybeAgain: 2 })
    expect(three).not.toHaveProperty('lastFrom')
  })

  test('is not known where the story tells none of the openings that were counted', () => {
    expect(told([], [reading('W01', 3)]).unknown).toEqual(['W01', 'W02'])
    expect(told([], [reading('W01', 0)]).unknown).toEqual(['W02'])
  })
})
