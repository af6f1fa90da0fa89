import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { chancesOf } from '../../src/card/draw/chances.ts'
import { openedSince } from '../../src/card/select/opened-since.ts'
import { matching } from '../../src/card/select/search.ts'
import { RowSorter } from '../../src/card/select/sort.ts'
import { SORTS, type Sort } from '../../src/card/state/chosen.ts'
import { type Row, toneOf } from '../../src/card/state/row.ts'
import { de } from '../../src/card/words/de.ts'
import { en, type Key } from '../../src/card/words/en.ts'
import type { Message } from '../../src/card/words/message.ts'
import { whenIn } from '../../src/card/words/when.ts'
import { wordsFor } from '../../src/card/words/words.ts'
import type { Doubt, Position, Reading } from '../../src/protocol/reading.ts'
import type { StoryNote } from '../../src/protocol/story.ts'
import { POLICY } from './policy.ts'

const at = (text: string): number => Date.parse(text)

describe('times', () => {
  const when = whenIn('en', 'Europe/Lisbon')
  const now = at('2026-11-25T21:47:00Z')
  test('are as short as they are clear', () => {
    expect(when.at(at('2026-11-25T18:02:00Z'), now)).toBe('18:02')
    expect(when.at(at('2026-11-23T09:10:00Z'), now)).toBe('Mon 09:10')
    expect(when.at(at('2026-04-12T09:10:00Z'), now)).toBe('12 Apr 10:10')
    expect(when.at(at('2025-04-12T09:10:00Z'), now)).toBe('12 Apr 2025, 10:10')
  })
  test('are those of the house, and of the hour that comes twice name the zone', () => {
    // Lisbon: 25 October 2026, 02:00 summer time becomes 01:00 (IANA time zone database).
    expect(when.clock(at('2026-10-24T23:59:00Z'))).toBe('00:59')
    const [summer, winter] = ['00', '01'].map(hour => when.clock(at(`2026-10-25T${hour}:59:00Z`)))
    expect(summer).toMatch(/^01:59 .*\D/)
    expect(winter).toMatch(/^01:59 .*\D/)
    expect(summer).not.toBe(winter)
    expect(when.clock(at('2026-10-25T02:00:00Z'))).toBe('02:00')
    expect(when.at(at('2026-10-25T00:30:00Z'), at('2026-10-25T23:30:00Z'))).toMatch(/^01:30 /)
    expect(when.ago(at('2026-10-24T23:30:00Z'), at('2026-10-25T02:30:00Z'))).toBe('3 hr ago')
  })
  test('count days by the calendar of the house, not by 24 hours', () => {
    const late = at('2026-11-25T00:10:00Z')
    expect(when.ago(at('2026-11-24T01:00:00Z'), late)).toBe('yesterday')
    expect(when.ago(at('2026-11-24T23:50:00Z'), late)).toBe('20 min ago')
    expect(when.at(at('2026-11-24T23:50:00Z'), late)).toBe('Tue 23:50')
  })
  test('what is not certain never stands as 100 in 100', () => {
    expect([0.004, 0.5, 0.994, 0.9999, 1].map(share => when.percent(share))).toEqual(['0', '50', '99', '99', '100'])
  })
  test('a time ahead of the clock is never said to be ago', () => {
    expect(when.ago(now + 5_000, now)).toBe('now')
  })
})

describe('words', () => {
  const blanks = (message: Message): string =>
    (typeof message === 'string' ? [message] : [message.one, message.other])
      .map(text => [...new Set(text.match(/\{\w+\}/g) ?? [])].sort().join())
      .sort()
      .at(-1)!
  test.each(Object.keys(en) as Key[])('%s has the same blanks in both languages', key => {
    expect(blanks(de[key])).toBe(blanks(en[key]))
  })
  test('German has no key of its own', () => {
    expect(Object.keys(de).sort()).toEqual(Object.keys(en).sort())
  })
  test('a language that is not known falls back to the next wish, then to English', () => {
    expect(wordsFor(['fr', 'de-AT']).lang).toBe('de-AT')
    expect(wordsFor(['', null, undefined, 'no such tag!']).lang).toBe('en')
  })
  test('what fills a blank is never read as a sentence', () => {
    expect(wordsFor(['en']).say('odd', { n: 2, text: '{n} {text}' })).toBe('2 unknown words, last “{n} {text}”')
  })
})

const row = (mark: string, position: Position, since?: string, doubts: readonly Doubt[] = [], room?: string): Row => ({
  opening: {
    mark,
    name: `Window ${mark}`,
    kind: 'window',
    reports: 'openings',
    power: 'cell',
    policy: POLICY,
    ...(room === undefined ? {} : { room }),
  },
  reading: {
    mark,
    position,
    doubts,
    openings: 0,
    sends: 0,
    asOf: '2026-11-25T21:47:00.000Z',
    ...(since === undefined ? {} : { since }),
  } satisfies Reading,
})

describe('the order of the schedule', () => {
  const rows = [
    row('W1', 'closed', '2026-11-25T20:00:00.000Z'),
    row('W2', 'closed', '2026-11-25T20:00:00.000Z', ['low']),
    row('W3', 'opened', '2026-11-25T10:00:00.000Z'),
    row('W4', 'opened', '2026-11-25T21:00:00.000Z'),
    row('W5', 'open', '2026-11-25T21:00:00.000Z'),
    row('W6', 'open', '2026-11-25T09:00:00.000Z'),
    row('W7', 'no-word', undefined, ['untested']),
    row('W8', 'closed', '2026-11-25T20:00:00.000Z', ['faint']),
    row('W9', 'closed', '2026-11-25T20:00:00.000Z', ['untested', 'spent']),
    row('W10', 'taken-closed', '2026-11-25T20:00:00.000Z'),
  ]
  const sorter = new RowSorter()
  const sorted: RowSorter['sorted'] = (...wish) => sorter.sorted(...wish)
  const order = (sort: Sort) => sorted(rows, sort, [], 'en').map(each => each.opening.mark)
  test('is what needs a look first', () => {
    expect(order('urgency')).toEqual(['W6', 'W5', 'W4', 'W3', 'W9', 'W8', 'W7', 'W2', 'W10', 'W1'])
  })
  test('what was seen shut before words may have been missed comes before a cell that is low, after what is in doubt', () => {
    const [low, faint, sure] = rows.filter(({ opening }) => ['W2', 'W8', 'W1'].includes(opening.mark))
    const unheard = [sure!, low!].map(({ opening, reading }, n) => ({
      opening: { ...opening, mark: `W2${n}` },
      reading: { ...reading, unheard: '2026-11-25T21:00:00.000Z' },
    }))
    const inOrder = sorted([sure!, low!, faint!, ...unheard], 'urgency', [], 'en').map(each => each.opening.mark)
    expect(inOrder).toEqual(['W8', 'W20', 'W21', 'W2', 'W1'])
  })
  test('what its contact calls open comes right behind what may be open, whoever saw it shut', () => {
    const door = row('D1', 'closed', '2026-11-25T20:00:00.000Z')
    const contested = { ...door, reading: { ...door.reading, against: true as const } }
    const inOrder = sorted([...rows, contested], 'urgency', [], 'en').map(each => each.opening.mark)
    expect(inOrder.slice(3, 6)).toEqual(['W3', 'D1', 'W9'])
    expect(toneOf(contested)).toBe('doubt')
  })
  test('is the same whether all rows are put in order or only what is another since the last time', () => {
    const positions = ['open', 'opened', 'closed', 'no-word'] as const
    const sides: readonly string[] = []
    const change = fc.record({
      at: fc.nat(rows.length - 1),
      position: fc.constantFrom(...positions),
      hour: fc.integer({ min: 10, max: 20 }),
      gone: fc.boolean(),
    })
    fc.assert(
      fc.property(
        fc.array(fc.array(change, { maxLength: 4 }), { maxLength: 8 }),
        fc.constantFrom(...SORTS),
        (all, sort) => {
          let now: readonly Row[] = rows
          for (const changes of all) {
            sorted(now, sort, sides, 'en')
            for (const { at, position, hour, gone } of changes) {
              const before = now[at % now.length]!
              const after = {
                opening: before.opening,
                reading: { ...before.reading, position, since: `2026-11-25T${hour}:00:00.000Z` },
              }
              now =
                gone && now.length > 2
                  ? now.filter(each => each !== before)
                  : now.map(each => (each === before ? after : each))
            }
            const inSteps = sorted(now, sort, sides, 'en')
            const atOnce = sorted(now, sort, [...sides], 'en')
            expect(inSteps.map(each => each.opening.mark)).toEqual(atOnce.map(each => each.opening.mark))
            expect(new Set(inSteps)).toEqual(new Set(now))
          }
        },
      ),
    )
  })
  test('by mark counts numbers as numbers', () => {
    expect(order('mark').at(-1)).toBe('W10')
  })
  test('a doubt never colours what may be open', () => {
    expect(toneOf(row('W1', 'opened', undefined, ['faint', 'low']))).toBe('unseen')
  })
  test('a search finds every typed word, in any of mark, name and room', () => {
    const found = matching([row('W1', 'open', undefined, [], 'Öl'), row('W2', 'open')], 'ÖL w1', 'de')
    expect(found.map(each => each.opening.mark)).toEqual(['W1'])
  })
})

describe('the forecast as a curve', () => {
  const left = { p05: 2, p50: 12, p95: 29, next: 0.99 }
  test('goes through what is known and only falls', () => {
    const curve = chancesOf(left)
    for (const [more, chance] of [
      [0, 1],
      [1, 0.99],
      [2, 0.95],
      [12, 0.5],
      [29, 0.05],
    ] as const) {
      expect(curve.some(point => point.more === more && point.chance === chance)).toBe(true)
    }
    for (const [index, point] of curve.slice(1).entries()) {
      expect(point.chance).toBeLessThan(curve[index]!.chance)
      expect(point.more).toBeGreaterThan(curve[index]!.more)
    }
  })
  test('lies on a Weibull life where the four points do', () => {
    // Survival exp(-(n / scale)^shape): NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2.
    const [shape, scale] = [3, 20]
    const survival = (n: number) => Math.exp(-((n / scale) ** shape))
    const quantile = (p: number) => scale * (-Math.log(p)) ** (1 / shape)
    const curve = chancesOf({ p05: quantile(0.95), p50: quantile(0.5), p95: quantile(0.05), next: survival(1) })
    for (const { more, chance } of curve) expect(chance).toBeCloseTo(survival(more), 9)
  })
  test('a spent cell gives a curve that ends at once, without a number that is none', () => {
    const curve = chancesOf({ p05: 0, p50: 0, p95: 0, next: 0 })
    expect(curve).toEqual([{ more: 0, chance: 1 }])
  })
})

describe('what opened since a time', () => {
  const since = at('2026-11-25T18:00:00Z')
  const story = (openings: StoryNote['openings'], more: Partial<StoryNote> = {}): StoryNote => ({
    v: 1,
    mark: 'W1',
    months: [],
    openings,
    cells: [],
    ...more,
  })
  const opened = (reading: Row, told: StoryNote | undefined) => openedSince([reading], () => told, since)
  const shut = row('W1', 'closed', '2026-11-25T20:30:00.000Z')

  test('is what its story tells of that time, whole unless something may be missing', () => {
    const told = story([
      ['2026-11-25T17:00:00.000Z', null, '2026-11-25T19:00:00.000Z'],
      ['2026-11-25T18:30:00.000Z'],
      ['2026-11-25T20:00:00.000Z'],
    ])
    const times = ['18:30', '20:00'].map(time => at(`2026-11-25T${time}:00Z`))
    expect(opened(shut, told)).toEqual([{ row: shut, times, atLeast: false }])
    const gap = { unheard: [['2026-11-25T17:00:00.000Z', '2026-11-25T18:10:00.000Z']] } as const
    expect(opened(shut, { ...told, ...gap })[0]?.atLeast).toBe(true)
    const cut = { ...shut, reading: { ...shut.reading, openings: 60 } }
    expect(opened(cut, story(told.openings.slice(1)))[0]?.atLeast, 'older ones are not kept').toBe(true)
    expect(opened(cut, told)[0]?.atLeast).toBe(false)
  })

  test('has both ends of the time of the last where only these are known, and what may be one word twice', () => {
    const told = story([
      ['2026-11-25T18:30:00.000Z', '2026-11-25T19:30:00.000Z'],
      ['2026-11-25T20:00:00.000Z', '2026-11-25T20:30:00.000Z'],
    ])
    const last = { lastFrom: at('2026-11-25T20:00:00Z') }
    expect(opened(shut, told)).toEqual([
      { row: shut, times: [at('2026-11-25T19:30:00Z'), at('2026-11-25T20:30:00Z')], atLeast: false, ...last },
    ])
    const doubtful = {
      notBefore: ['2026-11-25T20:00:00.000Z'],
      maybeAgain: ['2026-11-25T17:00:00.000Z', '2026-11-25T18:30:00.000Z'],
    }
    expect(opened(shut, { ...told, ...doubtful })[0]).toMatchObject({ ...last, hasNoEnd: true, maybeAgain: 1 })
  })

  test('a reading that is known sooner than its story adds the opening, once', () => {
    const open = row('W1', 'opened', '2026-11-25T20:00:00.000Z')
    expect(opened(open, story([]))[0]?.times).toEqual([at('2026-11-25T20:00:00Z')])
    expect(opened(open, story([['2026-11-25T20:01:00.000Z']]))[0]?.times, 'by another clock').toHaveLength(1)
    expect(opened(open, story([['2026-11-25T18:10:00.000Z']]))[0]?.times).toHaveLength(2)
    const waited = story([['2026-11-25T17:00:00.000Z', '2026-11-25T20:30:00.000Z']])
    expect(opened(open, waited)[0]?.times).toEqual([at('2026-11-25T20:30:00Z')])
  })

  test('without a story is at least what the reading tells', () => {
    const open = row('W1', 'opened', '2026-11-25T20:00:00.000Z')
    expect(opened(open, undefined)).toEqual([{ row: open, times: [at('2026-11-25T20:00:00Z')], atLeast: true }])
    expect(opened(shut, undefined)).toEqual([])
    const last = { at: '2026-11-25T20:30:00.000Z', word: 'closed', how: 'live' } as const
    const heard = { ...shut, reading: { ...shut.reading, last } }
    expect(opened(heard, undefined)[0]).toMatchObject({ times: [], shutAt: at('2026-11-25T20:30:00Z') })
  })
})
