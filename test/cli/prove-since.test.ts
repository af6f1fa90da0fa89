import { describe, expect, test } from 'vitest'
import { middle, sinceLast, sinceText } from '../../src/cli/bench/prove-since.ts'
import type { Entry } from '../../src/protocol/entry.ts'

let nth = 0
const entry = (at: string, what: Entry['what'], more: Partial<Entry> = {}): Entry => ({
  id: `e${++nth}`,
  at: `2026-05-01T${at}:00.000Z`,
  mark: 'W07',
  what,
  how: 'live',
  ...more,
})
const PROOF = [
  entry('09:00', 'opened', { millivolts: 2700 }),
  entry('17:58', 'opened', { millivolts: 2960 }),
  entry('17:59', 'rest'),
  entry('18:00', 'opened', { millivolts: 2940 }),
  entry('18:01', 'proved', { joinMilliseconds: 3900 }),
]

describe('what changed since the last proof', () => {
  test('join time, and the lowest volts of the words of each', () => {
    expect(sinceLast(PROOF, { joinMilliseconds: 4400, millivolts: 2870 })).toEqual({
      at: '2026-05-01T18:01:00.000Z',
      joinMilliseconds: { was: 3900, now: 4400 },
      millivolts: { was: 2940, now: 2870 },
    })
  })
  test('words of a day in between are not of the proof, and a later opening changes nothing', () => {
    const later = [...PROOF, entry('20:00', 'opened', { millivolts: 2500 })]
    expect(sinceLast(later, { millivolts: 2870 })).toMatchObject({ millivolts: { was: 2940 } })
  })
  test('the last of several counts, one that failed too', () => {
    const twice = [
      ...PROOF,
      entry('19:00', 'opened', { millivolts: 2800 }),
      entry('19:01', 'failed', { joinMilliseconds: 9000 }),
    ]
    expect(sinceLast(twice, { joinMilliseconds: 4400, millivolts: 2870 })).toEqual({
      at: '2026-05-01T19:01:00.000Z',
      joinMilliseconds: { was: 9000, now: 4400 },
      millivolts: { was: 2800, now: 2870 },
    })
  })
  test('nothing where no proof stands, or nothing was measured twice', () => {
    expect(sinceLast([], { joinMilliseconds: 4400 })).toBeUndefined()
    expect(sinceLast(PROOF.slice(0, 4), { joinMilliseconds: 4400 })).toBeUndefined()
    expect(sinceLast([entry('18:00', 'failed')], { joinMilliseconds: 4400, millivolts: 2900 })).toBeUndefined()
    expect(sinceLast(PROOF, {})).toBeUndefined()
  })
  test('in a sentence, on the clocks of the house', () => {
    const since = sinceLast(PROOF, { joinMilliseconds: 4400, millivolts: 2870 })!
    expect(sinceText(since, 'Europe/Lisbon')).toBe(
      'Beside the proof of Fri 2026-05-01 19:01: first word after 4.4 s, then 3.9 s; lowest 2.87 V, then 2.94 V',
    )
  })
  test('the middle of some times', () => {
    expect([[], [3], [3, 1, 2], [1, 2]].map(middle)).toEqual([undefined, 3, 2, 2])
  })
})
