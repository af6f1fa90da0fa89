import fc from 'fast-check'
import { describe, expect, it, test } from 'vitest'
import { addDeaf, type Deaf, deafTo, lengthIn, parseDeaf } from '../../src/house/deaf.ts'
import { step } from '../../src/house/machine.ts'
import { maybeAgainIn } from '../../src/house/maybe-again.ts'
import { policyOf } from '../../src/house/policy.ts'
import { startHouse } from '../../src/house/state.ts'
import { storyTeller } from '../../src/house/story.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseStory, type StoryNote } from '../../src/protocol/story.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { DAY, HOUR, iso } from '../../src/text/time.ts'

const register = (timezone = 'Europe/Lisbon', cellFitted?: string) =>
  parseRegister(`
house: Ropewalk Studios
timezone: ${timezone}
broker: { mqtt: 'mqtt://127.0.0.1:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, keepAliveSeconds: 4, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: Dye room, sender: coin${cellFitted ? `, cellFitted: ${cellFitted}` : ''} }
  - { mark: D01, name: Yard door, kind: door, sender: yard }
`).register!

let ids = 0
const entry = (at: string, what: Entry['what'], more: Partial<Entry> = {}): Entry => ({
  id: `e${++ids}`,
  at: new Date(at).toISOString(),
  mark: 'W01',
  what,
  how: 'live',
  ...more,
})

const SINCE = '2026-01-01T00:00:00.000Z'

function told(
  entries: readonly Entry[],
  {
    now = '2026-12-31T12:00:00Z',
    deaf = [] as readonly Deaf[],
    mark = 'W01',
    timezone = 'Europe/Lisbon',
    cellFitted = '',
  } = {},
): StoryNote {
  const house = register(timezone, cellFitted)
  const policies = policyOf(house)
  const ledger = applyAll(startLedger(policies, SINCE), entries)
  const first = { kind: 'register', register: house, policies, id: 'r', now: 0 } as const
  const { state } = step(startHouse(ledger, undefined, deaf), first)
  const story = storyTeller(state, Date.parse(now), maybeAgainIn)(mark)!
  expect(parseStory(JSON.stringify(story)), 'what is told fits the wire').toEqual(story)
  return story
}

const monthOf = (story: StoryNote, month: string) => story.months.find(each => each.month === month)

describe('months', () => {
  it('tells an opening of a clock that could not be right as an interval, and when it was shut no sooner than sure', () => {
    const opened = entry('2026-05-04T22:00:00Z', 'opened', { how: 'queued' })
    const looked = entry('2026-05-04T22:10:00Z', 'seen-closed', { how: 'queued' })
    const unset = told([opened, looked])
    expect(unset.openings).toEqual([[opened.at, expect.anything(), looked.at]])
    expect(unset.notBefore).toEqual([opened.at])
    expect(Date.parse(unset.openings[0]![1]!), 'until it is told').toBeGreaterThan(Date.parse(opened.at))
    const until = '2026-05-05T06:00:00.000Z'
    const set = entry(until, 'note', { until, by: 'sashtally', text: 'clock' })
    const story = told([opened, looked, set])
    expect(story.openings).toEqual([[opened.at, until, until]])
    expect(story.notBefore).toBeUndefined()
  })

  it('says which openings may be the message of another one once more, each once', () => {
    const waited = { how: 'queued', until: '2026-05-04T23:00:00.000Z' } as const
    const words = [
      entry('2026-05-03T22:00:00Z', 'opened'),
      entry('2026-05-04T22:00:00Z', 'opened', waited),
      entry('2026-05-04T22:00:00Z', 'opened', { ...waited, maybeAgain: true }),
    ]
    expect(told(words).openings).toHaveLength(3)
    expect(told(words).maybeAgain).toEqual(['2026-05-04T22:00:00.000Z'])
    const undone = entry('2026-05-04T23:10:00Z', 'undone', { undoes: words[2]!.id })
    expect(told([...words, undone]), 'one that was taken back is none').not.toHaveProperty('maybeAgain')
  })

  it('are thirteen, oldest first, and the present one is the last', () => {
    const { months } = told([])
    expect(months).toHaveLength(13)
    expect([months[0]?.month, months.at(-1)?.month]).toEqual(['2025-12', '2026-12'])
  })

  it('go by the clock of the house: 23:30 UTC of 31 July is August in Lisbon, July in Azores time', () => {
    const late = [entry('2026-07-31T23:30:00Z', 'opened')]
    expect(monthOf(told(late), '2026-08')?.openings).toBe(1)
    expect(monthOf(told(late, { timezone: 'Atlantic/Azores' }), '2026-07')?.openings).toBe(1)
  })

  it('count what people did: a bounce is one opening, and what was taken back is none', () => {
    const first = entry('2026-05-04T18:00:00Z', 'opened')
    const bounce = entry('2026-05-04T18:00:20Z', 'opened')
    const later = entry('2026-05-05T08:00:00Z', 'opened')
    expect(monthOf(told([first, bounce, later]), '2026-05')?.openings).toBe(2)
    const undone = entry('2026-05-05T09:00:00Z', 'undone', { undoes: later.id })
    const story = told([first, bounce, later, undone])
    expect(monthOf(story, '2026-05')?.openings).toBe(1)
    expect(story.openings).toEqual([[first.at]])
  })

  it('hold more than the last forty openings, beyond the window of the ledger too', () => {
    const daily = Array.from({ length: 300 }, (_, n) =>
      entry(iso(Date.parse('2026-01-05T08:00:00Z') + n * DAY), 'opened'),
    )
    const story = told(daily)
    expect(story.openings).toHaveLength(40)
    expect(story.months.reduce((sum, { openings }) => sum + openings, 0)).toBe(300)
    expect(monthOf(story, '2026-04')?.openings).toBe(30)
  })
})

describe('listened', () => {
  it('is the part of the month in which somebody did: nothing before the count began, of the present one the past', () => {
    const { months, unheard } = told([], { now: '2026-11-16T00:00:00Z' })
    expect(monthOf({ months } as StoryNote, '2025-12')?.listened).toBe(0)
    expect(monthOf({ months } as StoryNote, '2026-03')?.listened).toBe(1)
    expect(monthOf({ months } as StoryNote, '2026-11')?.listened).toBe(0.5)
    expect(unheard).toEqual([['2025-11-01T00:00:00.000Z', SINCE]])
  })

  it('lacks a gap, and never tells a part as the whole', () => {
    const deaf = [
      { from: Date.parse('2026-06-10T00:00:00Z'), to: Date.parse('2026-06-13T00:00:00Z') },
      { from: Date.parse('2026-09-10T00:00:00Z'), to: Date.parse('2026-09-10T00:20:00Z') },
      { from: Date.parse('2026-10-01T00:00:00Z'), to: Date.parse('2026-10-31T00:00:00Z'), marks: ['D01'] },
    ]
    const story = told([], { deaf })
    expect(monthOf(story, '2026-06')?.listened).toBe(0.9)
    expect(monthOf(story, '2026-09')?.listened).toBe(0.99)
    expect(monthOf(story, '2026-10')?.listened).toBe(1)
    expect(monthOf(told([], { deaf, mark: 'D01' }), '2026-10')?.listened).toBe(0.03)
    expect(story.unheard?.slice(1).map(([from]) => from)).toEqual([
      '2026-06-10T00:00:00.000Z',
      '2026-09-10T00:00:00.000Z',
    ])
  })

  it('is what a missed event leaves, known to its length or not', () => {
    const house = register()
    const policies = policyOf(house)
    const ledger = applyAll(startLedger(policies, SINCE), [entry('2026-03-01T08:00:00Z', 'opened')])
    const { state } = step(startHouse(ledger), { kind: 'register', register: house, policies, id: 'r', now: 0 })
    const now = Date.parse('2026-03-11T08:00:00Z')
    const deafBy = (more: object) => step(state, { kind: 'missed', id: 'm', now, ...more }).state.deaf
    expect(deafBy({ from: now - HOUR })).toEqual([{ from: now - HOUR, to: now }])
    expect(deafBy({ heardUntil: now - DAY })).toEqual([{ from: now - DAY, to: now }])
    expect(deafBy({}), 'since the last word').toEqual([{ from: now - 10 * DAY, to: now }])
    expect(deafBy({ from: now - 3_000 }), 'shorter than a will takes').toEqual([])
    expect(deafBy({ from: now - HOUR, queued: true }), 'the broker listened').toEqual([])
    expect(deafBy({ from: now - HOUR, marks: ['W01'] })).toEqual([{ from: now - HOUR, to: now, marks: ['W01'] }])
  })
})

describe('openings', () => {
  it('tell when it was next known shut: by a look, or by the contact itself', () => {
    const opened = ['2026-05-04T18:00:00.000Z', '2026-05-04T19:00:00.000Z'].map(at => entry(at, 'opened'))
    const story = told([...opened, entry('2026-05-04T20:00:00Z', 'seen-closed')])
    expect(story.openings.map(([, until, shutAt]) => [until, shutAt])).toEqual([
      [null, '2026-05-04T20:00:00.000Z'],
      [null, '2026-05-04T20:00:00.000Z'],
    ])
    const door = [
      entry('2026-05-04T18:00:00Z', 'opened', { mark: 'D01' }),
      entry('2026-05-04T18:02:00Z', 'closed', { mark: 'D01' }),
    ]
    expect(told(door, { mark: 'D01' }).openings).toEqual([
      ['2026-05-04T18:00:00.000Z', null, '2026-05-04T18:02:00.000Z'],
    ])
  })

  it('an opening that goes on after a look is not told as shut', () => {
    const story = told([
      entry('2026-05-04T18:00:00Z', 'opened'),
      entry('2026-05-04T18:00:10Z', 'seen-closed'),
      entry('2026-05-04T18:00:20Z', 'opened'),
    ])
    expect(story.openings).toEqual([['2026-05-04T18:00:00.000Z']])
  })

  it('of a word that waited at the broker tell the time in which it was', () => {
    const story = told([entry('2026-05-04T18:00:00Z', 'opened', { how: 'queued', until: '2026-05-04T19:30:00.000Z' })])
    expect(story.openings).toEqual([['2026-05-04T18:00:00.000Z', '2026-05-04T19:30:00.000Z']])
  })
})

test('of any words and looks a story says what the ledger says', () => {
  const step = fc.record({
    seconds: fc.constantFrom(1, 5, 29, 31, 100, 4_000),
    what: fc.constantFrom<Entry['what']>(
      'opened',
      'rest',
      'seen-closed',
      'closed',
      'gone',
      'proved',
      'on-test',
      'undone',
    ),
    how: fc.constantFrom<Entry['how']>('live', 'live', 'live', 'retained', 'said', 'queued'),
    mark: fc.constantFrom('W01', 'D01'),
  })
  fc.assert(
    fc.property(fc.array(step, { maxLength: 25 }), steps => {
      let at = Date.parse('2026-05-01T00:00:00Z')
      const entries: Entry[] = []
      for (const { seconds, what, how, mark } of steps) {
        at += seconds * 1_000
        const undoes = what === 'undone' ? { undoes: entries.findLast(each => each.mark === mark)?.id ?? 'none' } : {}
        const until = what === 'on-test' || how === 'queued' ? { until: iso(at + 45_000) } : {}
        entries.push(entry(iso(at), what, { mark, how, ...until, ...undoes }))
      }
      const ledger = applyAll(startLedger(policyOf(register()), SINCE), entries)
      for (const { mark, openings, position } of read(ledger, at + HOUR)) {
        const story = told(entries, { mark, now: iso(at + HOUR) })
        expect(story.openings).toHaveLength(openings)
        expect(story.months.reduce((sum, month) => sum + month.openings, 0)).toBe(openings)
        const last = story.openings.at(-1)
        const isClosed = position === 'closed'
        // A kept copy may say that it is open without an opening.
        if (last && isClosed) expect(last[2]).toBeDefined()
        if (last?.[2] && !isClosed) expect(entries.some(({ how }) => how === 'retained')).toBe(true)
      }
    }),
    { numRuns: 200, seed: 17 },
  )
})

describe('cells', () => {
  it('are told with their sends, how they ended, and the one that runs without an end', () => {
    const cell = { type: 'CR2032' }
    const story = told([
      entry('2026-01-02T10:00:00Z', 'cell-fitted', { cell }),
      entry('2026-01-03T10:00:00Z', 'opened'),
      entry('2026-02-03T10:00:00Z', 'opened'),
      entry('2026-03-01T10:00:00Z', 'failed'),
      entry('2026-03-02T10:00:00Z', 'cell-fitted', { cell }),
      entry('2026-03-03T10:00:00Z', 'opened'),
    ])
    expect(story.cells).toEqual([
      { fitted: '2026-01-02T10:00:00.000Z', sends: 2, ended: '2026-03-02T10:00:00.000Z', failed: true },
      { fitted: '2026-03-02T10:00:00.000Z', sends: 1 },
    ])
  })

  it.each<readonly [what: string, cellFitted: string, first: string, sends: number | undefined]>([
    ['was fitted before counting began', '2025-06-01', '2026-03-01T10:00:00Z', undefined],
    ['has a date after its contact had spoken', '2026-06-30', '2026-03-01T10:00:00Z', undefined],
    ['has a date before its contact spoke', '2026-02-28', '2026-03-01T10:00:00Z', 2],
    ['has the date of the day on which its contact spoke', '2026-03-01', '2026-02-28T23:30:00Z', 2],
  ])('one that %s is told with the sends that are known to be its own', (_, cellFitted, first, sends) => {
    const entries = [entry(first, 'opened'), entry('2026-04-01T10:00:00Z', 'opened')]
    const fitted = `${cellFitted}T00:00:00.000Z`
    expect(told(entries, { cellFitted }).cells).toEqual([{ fitted, ...(sends === undefined ? {} : { sends }) }])
    // Once a person says that a new one is in, its count is its own.
    const changed = [entry('2026-07-01T10:00:00Z', 'cell-fitted'), entry('2026-07-02T10:00:00Z', 'opened')]
    expect(told([...entries, ...changed], { cellFitted }).cells.at(-1)).toEqual({ fitted: changed[0]!.at, sends: 1 })
  })

  it('a contact on mains has none', () => expect(told([], { mark: 'D01' }).cells).toEqual([]))
})

it('a story is at most 4 kB: the oldest openings give way', () => {
  const cells = Array.from({ length: 20 }, (_, n) => [
    entry(iso(Date.parse('2026-01-02T10:00:00Z') + n * DAY), 'cell-fitted'),
    entry(iso(Date.parse('2026-01-02T11:00:00Z') + n * DAY), 'opened'),
    entry(iso(Date.parse('2026-01-02T12:00:00Z') + n * DAY), 'seen-closed'),
  ]).flat()
  const waited = Array.from({ length: 60 }, (_, n) =>
    entry(iso(Date.parse('2026-05-04T18:00:00Z') + n * HOUR), 'opened', {
      how: 'queued',
      until: iso(Date.parse('2026-05-04T18:30:00Z') + n * HOUR),
    }),
  )
  const deaf = Array.from({ length: 20 }, (_, n) => ({
    from: n * DAY + Date.parse(SINCE),
    to: n * DAY + HOUR + Date.parse(SINCE),
  }))
  const story = told([...cells, ...waited, entry('2026-06-04T18:00:00Z', 'seen-closed')], { deaf })
  expect(JSON.stringify(story).length).toBeLessThanOrEqual(4_096)
  expect(story.openings.length).toBeGreaterThan(15)
  expect(story.openings.at(-1)?.[0]).toBe(waited.at(-1)?.at)
})

it('an opening that a story leaves out takes its marks with it, and no more are left out than need be', () => {
  // Forty openings, each of them unsure in every way that the wire knows.
  const waited = Array.from({ length: 40 }, (_, n) => [
    entry(iso(Date.parse('2026-05-04T18:00:00Z') + n * HOUR), 'opened', { how: 'queued', maybeAgain: true }),
    entry(iso(Date.parse('2026-05-04T18:30:00Z') + n * HOUR), 'seen-closed'),
  ]).flat()
  const story = told(waited)
  const starts = story.openings.map(([at]) => at)
  expect(starts.length).toBeGreaterThan(0)
  expect(starts.length).toBeLessThan(40)
  expect([story.maybeAgain, story.notBefore]).toEqual([starts, starts])
  const onesLength = JSON.stringify([story.openings[0], starts[0], starts[0]]).length - 1
  expect(JSON.stringify(story).length).toBeGreaterThan(4_000 - onesLength)
})

describe('times in which nobody listened', () => {
  it('become one where they touch, and stay bounded by telling more, never less', () => {
    let deaf: readonly Deaf[] = []
    for (let n = 0; n < 1_000; n++) deaf = addDeaf(deaf, { from: n * HOUR, to: n * HOUR + 1_200_000 }, 2)
    expect(deaf.length).toBeLessThanOrEqual(150)
    for (let n = 0; n < 1_000; n++) {
      expect(deaf.some(({ from, to }) => from <= n * HOUR && to >= n * HOUR + 1_200_000)).toBe(true)
    }
    expect(addDeaf([{ from: 0, to: 20_000 }], { from: 10_000, to: 30_000 }, 2)).toEqual([{ from: 0, to: 30_000 }])
  })

  const MARKS = Array.from({ length: 45 }, (_, n) => `W${n}`)
  const gap = fc.record({
    after: fc.integer({ min: 0, max: 20 * 3_600 }),
    seconds: fc.integer({ min: 1, max: 7_200 }),
    marks: fc.option(fc.subarray(MARKS, { minLength: 1 }), { nil: undefined }),
  })

  it('whatever went unheard when fits what is kept of it, and stays unheard', () => {
    fc.assert(
      fc.property(fc.array(gap, { minLength: 150, maxLength: 400 }), gaps => {
        let [at, deaf] = [0, [] as readonly Deaf[]]
        const all = gaps.map(({ after, seconds, marks }) => {
          const from = at + after * 1_000
          at = from + seconds * 1_000
          return { from, to: at, ...(marks ? { marks } : {}) }
        })
        for (const each of all) deaf = addDeaf(deaf, each, MARKS.length)
        expect(parseDeaf(JSON.stringify(deaf))).toEqual(deaf)
        for (const mark of ['W0', 'W44']) {
          const spans = deafTo(mark, deaf, 0, [0, at])
          const mine = all.filter(({ from, to, marks }) => to - from >= 5_000 && (marks ?? MARKS).includes(mark))
          for (const { from, to } of mine) expect(spans.some(([a, b]) => a <= from && b >= to)).toBe(true)
        }
      }),
      { numRuns: 20, seed: 5 },
    )
  })

  it('many different sets of marks leave the gaps of the whole house apart', () => {
    let deaf: readonly Deaf[] = []
    for (let n = 0; n < 60; n++) deaf = addDeaf(deaf, { from: n * DAY, to: n * DAY + HOUR }, 400)
    const before = 60 * DAY
    for (let n = 0; n < 320; n++) {
      const from = before + n * 60_000
      deaf = addDeaf(deaf, { from, to: from + 20_000, marks: [`W${n}`] }, 400)
    }
    expect(parseDeaf(JSON.stringify(deaf))).toEqual(deaf)
    expect(lengthIn(deafTo('D01', deaf, 0, [0, before]), [0, before])).toBe(60 * HOUR)
    expect(deafTo('W319', deaf, 0, [before, before + DAY]).at(-1)).toEqual([
      before + 319 * 60_000,
      before + 319 * 60_000 + 20_000,
    ])
  })

  it('of all openings count for each', () => {
    const all = addDeaf(addDeaf([], { from: 10_000, to: 40_000, marks: ['W01'] }, 2), { from: 30_000, to: 60_000 }, 2)
    expect(deafTo('W01', all, 0, [0, 100_000])).toEqual([[10_000, 60_000]])
    expect(deafTo('D01', all, 0, [0, 100_000])).toEqual([[30_000, 60_000]])
    expect(deafTo('D01', all, 20_000, [0, 50_000])).toEqual([
      [0, 20_000],
      [30_000, 50_000],
    ])
  })
})
