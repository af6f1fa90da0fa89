import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Story, storyOf } from '../../../src/card/draw/story.ts'
import { layoutTimeline } from '../../../src/card/draw/timeline.ts'
import { apply, applyAll, startLedger } from '../../../src/ledger/apply.ts'
import { read } from '../../../src/ledger/read.ts'
import type { Entry } from '../../../src/protocol/entry.ts'
import type { Policy } from '../../../src/protocol/policy.ts'
import { dayOf, localOf, momentOf } from '../../../src/text/time-zone.ts'
import { POLICY } from '../policy.ts'

const HOUR = 3_600_000
const iso = (text: string) => Date.parse(text)

describe('local days', () => {
  // Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last Sundays of March and October.
  test('the day that summer time begins has 23 hours, the day it ends 25', () => {
    for (const zone of ['Europe/Lisbon', 'Europe/Berlin', 'Europe/Athens']) {
      const spring = dayOf(iso('2026-03-29T12:00:00Z'), zone)
      const autumn = dayOf(iso('2026-10-25T12:00:00Z'), zone)
      expect((spring.to - spring.from) / HOUR).toBe(23)
      expect((autumn.to - autumn.from) / HOUR).toBe(25)
    }
    expect(momentOf('Europe/Lisbon', 2026, 3, 29, 1)).toBe(iso('2026-03-29T01:00:00Z'))
    expect(momentOf('Europe/Lisbon', 2026, 10, 25, 1)).toBe(iso('2026-10-25T00:00:00Z'))
    expect(momentOf('Europe/Lisbon', 2026, 10, 25, 2)).toBe(iso('2026-10-25T02:00:00Z'))
  })

  // IANA time zone database: Lord Howe moves its clock by half an hour; Santiago once skipped midnight.
  test('half-hour changes and a midnight that does not exist are right', () => {
    const day = dayOf(iso('2026-04-04T16:00:00Z'), 'Australia/Lord_Howe')
    expect((day.to - day.from) / HOUR).toBe(24.5)
    const skipped = momentOf('America/Santiago', 2022, 9, 11, 0)
    expect(localOf(skipped, 'America/Santiago')).toMatchObject({ day: 11, hour: 1, minute: 0 })
    expect(localOf(skipped - 1000, 'America/Santiago')).toMatchObject({ day: 10, hour: 23, minute: 59 })
  })

  test('every moment lies in its own local day, and local hours read back', () => {
    const zones = ['Europe/Lisbon', 'America/New_York', 'Asia/Kathmandu', 'Australia/Lord_Howe', 'Pacific/Apia', 'UTC']
    fc.assert(
      fc.property(
        fc.integer({ min: iso('2000-01-01T00:00:00Z') / 1000, max: iso('2037-12-31T00:00:00Z') / 1000 }),
        fc.constantFrom(...zones),
        (seconds, zone) => {
          const at = seconds * 1000
          const { from, to } = dayOf(at, zone)
          expect(from).toBeLessThanOrEqual(at)
          expect(at).toBeLessThan(to)
          expect(localOf(from, zone).day).toBe(localOf(at, zone).day)
          const { year, month, day, hour } = localOf(at, zone)
          const start = momentOf(zone, year, month, day, hour)
          expect(localOf(start, zone)).toMatchObject({ year, month, day, hour })
        },
      ),
    )
  })

  test('an unknown time zone is refused', () => {
    expect(() => dayOf(0, 'Ropewalk/Loft')).toThrow(RangeError)
  })
})

let next = 0
const entry = (at: string, what: Entry['what'], extra: Partial<Entry> = {}): Entry => ({
  id: `e${next++}`,
  at,
  mark: 'W02',
  what,
  how: 'live',
  ...extra,
})
const now = iso('2026-11-25T21:00:00Z')

describe('the story of a contact', () => {
  test('an opened word and its rest are one opening, which nobody has seen shut until someone has', () => {
    const story = storyOf(
      [
        entry('2026-11-25T18:00:00Z', 'opened'),
        entry('2026-11-25T18:00:06Z', 'rest'),
        entry('2026-11-25T19:00:00Z', 'seen-closed'),
      ],
      now,
      POLICY,
    )
    expect(story.spans).toEqual([
      { from: iso('2026-11-25T18:00:00Z'), to: iso('2026-11-25T18:00:06Z'), state: 'open' },
      { from: iso('2026-11-25T18:00:06Z'), to: iso('2026-11-25T19:00:00Z'), state: 'opened' },
    ])
    expect(story.moments.map(({ what }) => what)).toEqual(['opening', 'seen-shut'])
  })

  test('without a rest word a contact that cannot report closing is open for its wait only', () => {
    const lone = [entry('2026-11-25T18:00:00Z', 'opened')]
    expect(storyOf(lone, now, POLICY).spans).toEqual([
      { from: iso('2026-11-25T18:00:00Z'), to: iso('2026-11-25T18:00:17Z'), state: 'open' },
      { from: iso('2026-11-25T18:00:17Z'), to: now, state: 'opened' },
    ])
    expect(storyOf(lone, now, { ...POLICY, reports: 'both' }).spans).toEqual([
      { from: iso('2026-11-25T18:00:00Z'), to: now, state: 'open' },
    ])
  })

  test.each([
    ['openings', null],
    ['openings', 30],
    ['both', null],
  ] as const)(
    'of a contact that reports %s, taken as closed after %s minutes, is the ledger’s own at every moment',
    (reports, taken) => {
      const policy = {
        ...POLICY,
        power: 'mains',
        reports,
        repeatSeconds: 600,
        takeAsClosedAfterMinutes: taken,
      } as const
      const step = fc.record({
        seconds: fc.constantFrom(1, 5, 29, 30, 31, 100, 570, 600, 630, 640, 4000),
        what: fc.constantFrom<Entry['what']>('opened', 'rest', 'seen-closed', 'closed', 'gone', 'proved'),
        how: fc.constantFrom<Entry['how']>('live', 'live', 'live', 'retained'),
      })
      fc.assert(
        fc.property(fc.array(step, { maxLength: 20 }), fc.boolean(), (steps, repeats) => {
          const { repeatSeconds, ...once } = policy
          const rules: Policy = repeats ? policy : once
          let [at, ledger] = [iso('2026-11-01T00:00:00Z'), startLedger({ W02: rules }, '2026-11-01T00:00:00.000Z')]
          const entries: Entry[] = []
          const told: [number, string][] = []
          for (const { seconds, what, how } of steps) {
            for (const time of [at + 1, at + seconds * 500, at + seconds * 1000 - 1])
              told.push([time, read(ledger, time)[0]!.position])
            at += seconds * 1000
            entries.push(entry(new Date(at).toISOString(), what, { how }))
            ledger = apply(ledger, entries.at(-1)!)
          }
          const { moments, spans } = storyOf(entries, at, rules)
          expect(moments.filter(({ what }) => what === 'opening')).toHaveLength(ledger.marks.W02?.fold.openings ?? 0)
          const drawn = (time: number) => spans.find(({ from, to }) => time >= from && time < to)?.state ?? 'none'
          const shown = (position: string) => (position === 'open' || position === 'opened' ? position : 'none')
          expect(told.map(([time]) => drawn(time))).toEqual(told.map(([, position]) => shown(position)))
        }),
        { numRuns: 500, seed: 9 },
      )
    },
  )

  test('of a contact’s last entries goes on from what the ledger made of those before', () => {
    const [first, ...rest] = [
      entry('2026-11-25T18:00:00Z', 'opened'),
      entry('2026-11-25T18:00:10Z', 'opened'),
      entry('2026-11-25T18:20:00Z', 'seen-closed'),
    ]
    const { fold } = applyAll(startLedger({ W02: POLICY }), [first!]).marks.W02!
    const openings = (before?: typeof fold) => storyOf(rest, now, POLICY, before).moments.map(({ what }) => what)
    expect(openings()).toEqual(['opening', 'seen-shut'])
    expect(openings(fold)).toEqual(['seen-shut'])
  })

  test('a word that waited is sure from the end of its interval, and the interval is kept', () => {
    const story = storyOf(
      [entry('2026-11-25T10:00:00Z', 'opened', { how: 'queued', until: '2026-11-25T12:00:00Z' })],
      now,
      POLICY,
    )
    expect(story.spans[0]!.from).toBe(iso('2026-11-25T12:00:00Z'))
    expect(story.moments[0]).toEqual({
      at: iso('2026-11-25T10:00:00Z'),
      until: iso('2026-11-25T12:00:00Z'),
      what: 'opening',
    })
  })

  test('what nobody has seen shut lasts until now', () => {
    const story = storyOf([entry('2026-11-25T18:00:00Z', 'opened'), entry('2026-11-25T18:00:06Z', 'rest')], now, POLICY)
    expect(story.spans.at(-1)).toMatchObject({ to: now, state: 'opened' })
  })

  test('a reported closing ends it; retained copies and what was taken back are no openings', () => {
    const seen = entry('2026-11-25T09:00:00Z', 'seen-closed')
    const story = storyOf(
      [
        entry('2026-11-25T08:00:00Z', 'opened'),
        entry('2026-11-25T08:30:00Z', 'closed'),
        entry('2026-11-25T08:40:00Z', 'rest', { how: 'retained' }),
        seen,
        entry('2026-11-25T09:01:00Z', 'undone', { undoes: seen.id }),
      ],
      now,
      { ...POLICY, reports: 'both' },
    )
    expect(story.spans).toHaveLength(1)
    expect(story.moments.map(({ what }) => what)).toEqual(['opening'])
  })

  test('a live rest word without an opened word is an opening of its own', () => {
    const story = storyOf([entry('2026-11-25T08:00:00Z', 'rest')], now, POLICY)
    expect(story.moments).toHaveLength(1)
    expect(story.spans[0]).toMatchObject({ state: 'opened' })
  })
})

const ticksOf = (drawn: ReturnType<typeof layoutTimeline>) =>
  drawn.shapes.flatMap(shape => ('text' in shape ? [[shape.text, shape.x] as const] : []))
const options = { now, timezone: 'Europe/Lisbon', width: 528, at: now } as const
const quiet: Story = { spans: [], moments: [] }

describe('the timeline', () => {
  test('an hour that the clock repeats is drawn twice as wide, one that it skips not at all', () => {
    const gapAfterMidnight = (day: string) => {
      const ticks = new Map(ticksOf(layoutTimeline(quiet, { ...options, scale: 'day', at: iso(`${day}T12:00:00Z`) })))
      return (ticks.get('03')! - ticks.get('00')!) / (ticks.get('09')! - ticks.get('06')!)
    }
    expect(gapAfterMidnight('2026-11-25')).toBeCloseTo(1, 2)
    expect(gapAfterMidnight('2026-10-25')).toBeCloseTo(4 / 3, 2)
    expect(gapAfterMidnight('2026-03-29')).toBeCloseTo(2 / 3, 2)
  })

  test('it shows the day of the house, not of the reader', () => {
    const late = iso('2026-11-25T23:30:00Z')
    expect(layoutTimeline(quiet, { ...options, scale: 'day', at: late, timezone: 'Europe/Berlin' }).from).toBe(
      iso('2026-11-25T23:00:00Z'),
    )
    expect(layoutTimeline(quiet, { ...options, scale: 'day', at: late }).from).toBe(iso('2026-11-25T00:00:00Z'))
  })

  test('a year is the twelve months up to now, each with its name in the reader’s language', () => {
    const drawn = layoutTimeline(quiet, { ...options, scale: 'year', locale: 'de' })
    expect(drawn.from).toBe(iso('2025-12-01T00:00:00Z'))
    expect(drawn.to).toBe(iso('2026-12-01T00:00:00Z'))
    expect(
      ticksOf(drawn)
        .map(([text]) => text)
        .slice(0, 4),
    ).toEqual(['Dez', 'Jan', 'Feb', 'Mär'])
  })

  test('openings in the stretch are counted and drawn, others are not', () => {
    const story = storyOf(
      [
        entry('2026-11-24T10:00:00Z', 'opened'),
        entry('2026-11-25T10:00:00Z', 'opened'),
        entry('2026-11-25T11:00:00Z', 'opened'),
      ],
      now,
      POLICY,
    )
    const day = layoutTimeline(story, { ...options, scale: 'day' })
    expect(day.openings).toBe(2)
    expect(layoutTimeline(story, { ...options, scale: 'year' }).openings).toBe(3)
    const sent = day.shapes.find(shape => 'pen' in shape && shape.pen === 'sent')
    const hit = Number(('d' in sent! ? sent.d : '').match(/^M([\d.]+)/)![1])
    expect((hit - 14) / 500).toBeCloseTo(10 / 24, 3)
  })

  test('nothing is drawn as lasting beyond now, and the future has no line for now', () => {
    const story: Story = { spans: [{ from: now - HOUR, to: now + HOUR, state: 'open' }], moments: [] }
    const span = layoutTimeline(story, { ...options, scale: 'day' }).shapes.find(
      shape => 'pen' in shape && shape.pen === 'open-void',
    )
    const xs = [...('d' in span! ? span.d : '').matchAll(/[ML]([\d.]+)/g)].map(([, x]) => Number(x))
    expect((Math.max(...xs) - 14) / 500).toBeCloseTo(21 / 24, 3)
    const yesterday = layoutTimeline(quiet, { ...options, scale: 'day', at: now - 24 * HOUR })
    expect(yesterday.shapes.some(shape => 'pen' in shape && shape.pen === 'now')).toBe(false)
  })
})
