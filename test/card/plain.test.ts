import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { chancesOf } from '../../src/card/draw/chances.ts'
import { openedSince } from '../../src/card/select/opened-since.ts'
import { matching } from '../../src/card/select/search.ts'
import { RowSorter } from '../../src/card/select/sort.ts'
import { SORTS, type Sort } from '../../src/card/state/chosen.ts'
import { type Span, spanOf } from '../../src/card/state/keeper.ts'
import { type Row, toneOf } from '../../src/card/state/row.ts'
import { de } from '../../src/card/words/de.ts'
import { en, type Key } from '../../src/card/words/en.ts'
import type { Message } from '../../src/card/words/message.ts'
import { whenIn } from '../../src/card/words/when.ts'
import { wordsFor } from '../../src/card/words/words.ts'
import type { Policy } from '../../src/protocol/policy.ts'
import type { Doubt, Position, Reading } from '../../src/protocol/reading.ts'
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
  test('are those of the house, on both sides of a change of clocks', () => {
    // Lisbon: 25 October 2026, 02:00 summer time becomes 01:00 (IANA time zone database).
    expect(when.clock(at('2026-10-25T00:59:00Z'))).toBe('01:59')
    expect(when.clock(at('2026-10-25T01:00:00Z'))).toBe('01:00')
    expect(when.at(at('2026-10-25T00:30:00Z'), at('2026-10-25T23:30:00Z'))).toBe('01:30')
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

test('what opened since a time is counted by the contact’s own bounce and repeats, and a reading tells it no second time', () => {
  const from = at('2026-11-25T18:00:00Z')
  const times = (seconds: number, count: number) =>
    Array.from({ length: count }, (_, n) => new Date(from + 60_000 + n * seconds * 1000).toISOString())
  const home = (seconds: number, count: number, more: Partial<Policy>) => {
    const said = times(seconds, count)
    const window = said.map(time => ({ n: 1, entry: { id: time, at: time, mark: 'W1', what: 'opened', how: 'live' } }))
    const { opening, reading } = row('W1', 'taken-closed', said[0])
    const rows = [
      { opening: { ...opening, policy: { ...POLICY, ...more } }, reading: { ...reading, provenAt: said.at(-1)! } },
    ]
    return openedSince(rows, { marks: { W1: { window } } } as never, from).map(each => each.times.length)
  }
  expect(home(20, 6, { bounceSeconds: 5 })).toEqual([6])
  expect(home(20, 6, { bounceSeconds: 30 })).toEqual([1])
  expect(home(600, 7, { bounceSeconds: 30, repeatSeconds: 600 })).toEqual([1])
})
test('what opened since a time leaves out kept copies and counts a bounce once', () => {
  const entry = (time: string, how: 'live' | 'retained') => ({
    n: 1,
    entry: { id: time, at: time, mark: 'W1', what: 'opened' as const, how },
  })
  const window = [
    entry('2026-11-25T10:00:00.000Z', 'live'),
    entry('2026-11-25T20:00:00.000Z', 'live'),
    entry('2026-11-25T20:00:10.000Z', 'live'),
    entry('2026-11-25T21:00:00.000Z', 'retained'),
  ]
  const ledger = { marks: { W1: { window } } } as never
  const opened = openedSince([row('W1', 'opened', '2026-11-25T20:00:00.000Z')], ledger, at('2026-11-25T18:00:00Z'))
  expect(opened.map(each => each.times.length)).toEqual([1])
})
test('what opened since a time is what was heard here and what a keeper told, each once', () => {
  const live = (time: string) => ({
    n: 1,
    entry: { id: time, at: time, mark: 'W1', what: 'opened' as const, how: 'live' as const },
  })
  const window = ['18:00', '18:20', '18:40', '19:00'].map(time => live(`2026-11-25T${time}:00.000Z`))
  const ledger = { marks: { W1: { window } } } as never
  // The first is the one heard here at 19:00; the others this tablet did not hear.
  const told = ['19:00:05', '20:00:00', '20:30:00'].map(time => spanOf(`2026-11-25T${time}Z`))
  const [opened] = openedSince(
    [row('W1', 'opened', '2026-11-25T20:30:00.000Z')],
    ledger,
    at('2026-11-25T17:00:00Z'),
    () => told,
  )
  expect(opened?.times.length).toBe(6)
  expect(opened?.times.at(-1)).toBe(at('2026-11-25T20:30:00Z'))
})
test('what a keeper told whose clock is another is counted once', () => {
  const from = at('2026-11-25T17:00:00Z')
  const told = (reading: Row, spans: readonly Span[], heard: readonly string[] = []) => {
    const window = heard.map((time, n) => ({
      n,
      entry: { id: time, at: time, mark: 'W1', what: 'opened', how: 'live' },
    }))
    const ledger = { marks: { W1: { window } } } as never
    return openedSince([reading], ledger, from, () => spans).map(({ times }) => times.length)
  }
  const opened = row('W1', 'opened', '2026-11-25T18:00:00.000Z')
  // This tablet is ten minutes ahead.
  expect(told(opened, [spanOf('2026-11-25T18:10:00Z')])).toEqual([1])
  const shut = row('W1', 'closed', '2026-11-25T18:20:00.000Z')
  const proven = { ...shut, reading: { ...shut.reading, provenAt: '2026-11-25T18:00:00.000Z' } }
  expect(told(proven, [spanOf('2026-11-25T18:10:00Z')])).toEqual([1])
  // Both heard it, a minute apart.
  expect(told(opened, [], ['2026-11-25T18:01:00.000Z'])).toEqual([1])
  // The keeper was down, and knows only that it was between these two.
  const waited = spanOf('2026-11-25T18:00:00Z', '2026-11-25T18:30:00Z')
  expect(told(opened, [waited], ['2026-11-25T18:10:00.000Z'])).toEqual([1])
  expect(told(opened, [waited], ['2026-11-25T18:40:00.000Z'])).toEqual([2])
  // What a person says is no word of the contact.
  const looked = { id: 'a', at: '2026-11-25T18:00:20.000Z', mark: 'W1', what: 'seen-closed', how: 'live' }
  const ledger = { marks: { W1: { window: [{ n: 1, entry: looked }] } } } as never
  const [alone] = openedSince([opened], ledger, from, () => [spanOf('2026-11-25T17:59:00Z')])
  expect(alone?.times).toEqual([at('2026-11-25T17:59:00Z')])
  // Nor is a kept copy, whose time is the page's.
  const kept = { ...looked, what: 'opened', how: 'retained' }
  const keptLedger = { marks: { W1: { window: [{ n: 1, entry: kept }] } } } as never
  expect(openedSince([opened], keptLedger, from, () => [spanOf('2026-11-25T17:59:00Z')])[0]?.times.length).toBe(1)
})
