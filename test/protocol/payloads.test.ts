import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { LONGEST } from '../../src/protocol/fitting.ts'
import { parseHeard } from '../../src/protocol/heard-note.ts'
import { parseKeeper } from '../../src/protocol/keeper-note.ts'
import { LONGEST_TEXT } from '../../src/protocol/parts.ts'
import type { Policy } from '../../src/protocol/policy.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { parseReading } from '../../src/protocol/reading.ts'
import { parseRegisterNote } from '../../src/protocol/register-note.ts'
import { parseSay } from '../../src/protocol/say.ts'
import { COIN } from '../ledger/notation.ts'

const reading: Reading = {
  mark: 'W02',
  position: 'opened',
  since: '2026-05-04T18:02:00.000Z',
  doubts: ['untested', 'twin'],
  last: { at: '2026-05-04T18:02:06.000Z', word: 'rest', how: 'live' },
  openings: 8,
  sends: 9,
  countedSince: '2026-03-01T00:00:00.000Z',
  left: {
    p05: 2,
    p50: 12,
    p95: 29,
    next: 0.97,
    restsOn: { source: 'practice', cells: 0, deaths: 0 },
    slowJoin: { ratio: 1.38, words: 10 },
  },
  asOf: '2026-05-04T18:03:00.000Z',
  provenAt: '2026-05-04T18:02:00.000Z',
  twinWith: 'W11',
  unheard: '2026-05-04T18:02:30.000Z',
  seen: true,
  against: true,
  odd: { count: 2, text: '<img src=x onerror=alert(1)>', at: '2026-05-01T00:00:00.000Z' },
}
const note = { v: 1, name: 'Dye room, south', ...reading }
const policy: Policy = { ...COIN, modelSends: 20, was: ['W2'] }
const house = {
  v: 1,
  house: 'Ropewalk Studios',
  timezone: 'Europe/Lisbon',
  sides: ['south'],
  floors: 3,
  roof: 'gable',
  openings: [
    {
      mark: 'W02',
      name: 'Dye room',
      kind: 'window',
      at: { side: 'south', floor: 0, along: 0.2 },
      reports: 'openings',
      policy,
    },
  ],
}

describe('a reading', () => {
  test('what a forecast adds comes back too, and only where it is true', () => {
    const left = {
      p05: 1,
      p50: 2,
      p95: 3,
      next: 0.9,
      restsOn: { source: 'practice', assumed: true, cells: 0, deaths: 0 },
      alive: 0.4,
      silence: { days: 41, usualDays: 12 },
      atLeast: true,
      sentBefore: true,
      slowJoin: { ratio: 1.6, words: 9 },
    }
    expect(parseReading(JSON.stringify({ ...note, left }))?.left).toEqual(left)
    const odd = {
      ...left,
      sentBefore: 0,
      silence: 'long',
      alive: 2,
      atLeast: false,
      restsOn: { ...left.restsOn, assumed: 1 },
    }
    expect(parseReading(JSON.stringify({ ...note, left: odd }))?.left).toEqual({
      p05: 1,
      p50: 2,
      p95: 3,
      next: 0.9,
      restsOn: { source: 'practice', cells: 0, deaths: 0 },
      slowJoin: { ratio: 1.6, words: 9 },
    })
  })
  test('comes back as it went out', () => expect(parseReading(JSON.stringify(note))).toEqual(note))

  test.each([
    ['mark', undefined],
    ['mark', 'W/02'],
    ['position', 'shut'],
    ['openings', -1],
    ['openings', 1.5],
    ['sends', '9'],
    ['doubts', 'untested'],
    ['asOf', '2026-05-04'],
    ['asOf', '2026-02-30T00:00:00.000Z'],
    ['v', 2],
  ])('with %s %j is refused', (key, value) => {
    expect(parseReading(JSON.stringify({ ...note, [key]: value }))).toBeUndefined()
  })

  test('loses only what does not fit, where that may be absent', () => {
    const odd = {
      ...note,
      since: 'then',
      last: { at: 'then' },
      left: { p05: 1 },
      doubts: ['low', 'haunted', 'low', 7],
      twinWith: 5,
      seen: 'yes',
      x: 1,
    }
    const { since, last, left, twinWith, seen, ...rest } = note
    expect(parseReading(JSON.stringify(odd))).toEqual({ ...rest, doubts: ['low'] })
  })

  test('has its texts cut without leaving half a character', () => {
    const long = `${'x'.repeat(LONGEST_TEXT - 1)}😀😀`
    expect(parseReading(JSON.stringify({ ...note, name: long }))?.name).toBe(`${'x'.repeat(LONGEST_TEXT - 1)}😀`)
  })

  test('that is too long is refused unread', () => {
    expect(parseReading(JSON.stringify({ ...note, pad: 'x'.repeat(LONGEST.other) }))).toBeUndefined()
  })
})

test('the keeper’s state and its answers come back', () => {
  const keeper = { v: 1, state: 'broken', beat: reading.asOf, since: reading.asOf, problem: 'the disk is full' }
  expect(parseKeeper(JSON.stringify(keeper))).toEqual(keeper)
  expect(parseKeeper(JSON.stringify({ ...keeper, state: 'well' }))).toBeUndefined()
  expect(parseHeard('{"v":1,"ok":false,"problem":"no such mark"}')).toEqual({
    v: 1,
    ok: false,
    problem: 'no such mark',
  })
  expect(parseHeard('{"v":1,"ok":"yes"}')).toBeUndefined()
})

describe('the register for walls', () => {
  test('comes back as it went out', () => expect(parseRegisterNote(JSON.stringify(house))).toEqual(house))

  test('with one opening that does not fit is refused whole', () => {
    const { policy: _, ...bare } = house.openings[0]!
    expect(parseRegisterNote(JSON.stringify({ ...house, openings: [...house.openings, bare] }))).toBeUndefined()
  })

  test('with a mark twice, whatever the case, is refused', () => {
    const twice = [house.openings[0], { ...house.openings[0], mark: 'w02' }]
    expect(parseRegisterNote(JSON.stringify({ ...house, openings: twice }))).toBeUndefined()
  })

  test('with more openings than any house has is refused', () => {
    const many = Array.from({ length: 5001 }, (_, index) => ({ ...house.openings[0], mark: `W${index}` }))
    expect(parseRegisterNote(JSON.stringify({ ...house, openings: many }))).toBeUndefined()
  })

  test('lets nothing through that a wall must not know', () => {
    const leaky = {
      ...house,
      broker: { mqtt: 'mqtt://x' },
      openings: [{ ...house.openings[0], topic: 'ropewalk/w02', client: 'rww02' }],
    }
    expect(parseRegisterNote(JSON.stringify(leaky))).toEqual(house)
  })
})

describe('a say', () => {
  const say = (given: object) => parseSay(JSON.stringify({ v: 1, id: 'a1', what: 'seen-closed', ...given }))

  test('comes back with its time in UTC', () => {
    expect(say({ by: 'Rosa', at: '2026-05-04T18:50:00+01:00' })).toEqual({
      say: { v: 1, id: 'a1', what: 'seen-closed', by: 'Rosa', at: '2026-05-04T17:50:00.000Z' },
    })
    expect(say({ what: 'cell-fitted', cell: { type: 'CR2032', batch: '24-11', millivolts: 3210 } })).toEqual({
      say: { v: 1, id: 'a1', what: 'cell-fitted', cell: { type: 'CR2032', batch: '24-11', millivolts: 3210 } },
    })
    expect(say({ what: 'undone', undoes: 'b7' })).toEqual({ say: { v: 1, id: 'a1', what: 'undone', undoes: 'b7' } })
  })

  test.each([
    [{ v: 2 }, /^v must be 1 \(found 2\)$/],
    [{ what: 'opened' }, /what must be one of seen-closed, .* \(found "opened"\)/],
    [{ what: undefined }, /what is missing: must be one of/],
    [{ at: 'yesterday' }, /at must be a date and time with a zone/],
    [{ at: '2026-02-30T10:00Z' }, /at must be a date and time with a zone/],
    [{ at: '2026-05-04T18:50:00' }, /at must be a date and time with a zone/],
    // Year -1 in UTC: its ISO form has a sign and six digits, which nothing reads back.
    [{ at: '0000-01-01T00:00:00+14:00' }, /at must be a time of the years 0000 to 9999/],
    [{ at: '9999-12-31T23:00:00-14:00' }, /at must be a time of the years 0000 to 9999/],
    [{ by: 7 }, /^by must be text \(found 7\)$/],
    [{ note: 'x'.repeat(401) }, /note is at most 400 characters \(this one has 401\)/],
    [{ what: 'undone' }, /undone needs undoes/],
    [{ undoes: 'b7' }, /undoes belongs to undone/],
    [{ what: 'flashed' }, /flashed needs revision/],
    [{ what: 'flashed', revision: 'latest' }, /revision must be 8 hex digits/],
    [{ what: 'note', note: ' ' }, /a note needs its text/],
    [{ what: 'cell-fitted', cell: 'CR2032' }, /cell must be an object with a type/],
    [{ what: 'cell-fitted', cell: { type: 'CR2032', millivolts: -1 } }, /cell.millivolts must be a number/],
    [
      { v: 2, by: 7, what: 'flashed', undoes: 'b7', cell: { millivolts: 'full' } },
      /v must be 1 \(found 2\); by must be text \(found 7\); cell.type is missing.*; cell.millivolts .*; undoes belongs .*; flashed needs revision/,
    ],
  ])('%j is refused with every reason and its id', (given, reason) => {
    expect(say(given)).toEqual({ id: 'a1', problem: expect.stringMatching(reason) })
  })

  test('without an id that can be answered is refused without one', () => {
    for (const text of [
      '{"v":1,"what":"note"}',
      '{"v":1,"id":"a/#","what":"note"}',
      '[]',
      'null',
      'x',
      `"${'x'.repeat(20_000)}"`,
    ]) {
      expect(parseSay(text)).toEqual({ problem: expect.any(String) })
    }
  })
})

test('no text makes any reader throw', () => {
  const readers = [parseReading, parseKeeper, parseHeard, parseRegisterNote, parseSay]
  const text = fc.oneof(
    fc.string(),
    fc.json(),
    fc
      .record({
        v: fc.constant(1),
        id: fc.string(),
        openings: fc.anything(),
        doubts: fc.anything(),
        cell: fc.anything(),
      })
      .map(each => {
        try {
          return JSON.stringify(each)
        } catch {
          return '{}'
        }
      }),
    fc.constantFrom('{"v":1,"__proto__":{"ok":true}}', '{"v":1,"ok":true,"problem":{"toString":1}}'),
  )
  fc.assert(
    fc.property(text, each => readers.every(read => [true, false].includes(read(each) === undefined))),
    { numRuns: 2000 },
  )
})

test('what __proto__ says is not believed', () => {
  expect(parseHeard('{"v":1,"__proto__":{"ok":true}}')).toBeUndefined()
  expect(parseReading('{"__proto__":{"v":1}}')).toBeUndefined()
})
