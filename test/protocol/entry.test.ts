import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { type Entry, entrySchema, HOWS, isEntry, soundEntry } from '../../src/protocol/entry.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { COIN, entry, inShort, time } from '../ledger/notation.ts'

const whole: Entry = {
  id: 'a1',
  at: '2026-11-25T18:02:00.000Z',
  until: '2026-11-25T18:03:00Z',
  mark: 'W02',
  what: 'proved',
  how: 'said',
  sends: 1,
  boots: 71,
  text: 'bench',
  by: 'Rosa',
  note: 'after the frost',
  cell: { type: 'CR2032', batch: '24-11', millivolts: 3210 },
  millivolts: 2780,
  revision: '0a1b2c3d',
  linkLiveSeconds: 3600.5,
  joinMilliseconds: 1260,
  maybeAgain: true,
}

describe('an entry', () => {
  test('with every field comes back the same object', () => expect(soundEntry(whole)).toBe(whole))

  test('loses what does not fit and may be absent, and keys that no entry has', () => {
    const { until, sends, cell, maybeAgain, ...rest } = whole
    const odd = {
      ...rest,
      until: time('17:00'),
      sends: 1.5,
      cell: { type: 7 },
      maybeAgain: 'yes',
      volts: 3,
      __proto__: {},
    }
    expect(soundEntry(odd)).toEqual(rest)
  })

  test('needs an id that stands in a file as it is: halves of a surrogate pair do not', () => {
    expect(soundEntry({ ...whole, id: '\ud800' })).toBeUndefined()
    expect(soundEntry({ ...whole, id: 'a\udfff' })).toBeUndefined()
    expect(soundEntry({ ...whole, id: '\u{1f600}' })).toBeDefined()
  })

  test('has its texts cut, keeping what comes before', () => {
    expect(soundEntry({ ...whole, note: 'x'.repeat(20_000) })).toEqual({ ...whole, note: 'x'.repeat(10_000) })
  })

  test('of a test that was ended by hand has its end before its beginning; no other has', () => {
    const ended = { ...whole, at: time('18:00'), until: time('17:59') }
    expect(entrySchema.safeParse({ ...ended, what: 'on-test' }).success).toBe(true)
    expect(entrySchema.safeParse({ ...ended, what: 'opened' }).success).toBe(false)
  })

  test('of no calendar day, or without a zone, is none', () => {
    for (const at of ['2026-02-29T10:00:00Z', '2026-11-31T10:00:00Z', '2026-11-25T24:00:00Z', '2026-11-25T18:02:00'])
      expect(soundEntry({ ...whole, at, until: undefined })).toBeUndefined()
    for (const at of ['2024-02-29T10:00:00Z', '2000-02-29T10:00:00Z', '2026-12-31T23:59:59.123456789Z'])
      expect(soundEntry({ ...whole, at, until: undefined })?.at).toBe(at)
    expect(soundEntry({ ...whole, at: '1900-02-29T10:00:00Z' })).toBeUndefined()
  })

  test('is looked at quickly and slowly with the same outcome', () => {
    const some = fc.record(
      {
        id: fc.constantFrom('a', '', 'a\u0000', 7),
        at: fc.constantFrom(time('10:00'), 'then', 8),
        until: fc.constantFrom(time('09:00'), time('11:00'), 'then'),
        mark: fc.constantFrom('W02', '-', '__proto__'),
        what: fc.constantFrom(...WHATS, 'ajar'),
        how: fc.constantFrom(...HOWS, 'guessed'),
        sends: fc.constantFrom(1, 1.5, -1, '1'),
        cell: fc.constantFrom({ type: 'CR2032' }, { type: 'CR2032', volts: 3 }, {}, null),
        undoes: fc.constantFrom('b', 7),
        linkLiveSeconds: fc.double(),
        maybeAgain: fc.boolean(),
        extra: fc.constant(1),
      },
      { requiredKeys: [] },
    )
    const check = (value: object): void => {
      const isSound = entrySchema.safeParse(value).success
      const found = soundEntry(value)
      expect(found === value).toBe(isSound)
      if (found) expect(entrySchema.safeParse(found).success && isEntry(found)).toBe(true)
    }
    for (const value of [whole, { ...whole, extra: 1 }, { ...whole, what: 'undone' }]) check(value)
    fc.assert(fc.property(some, check), { numRuns: 3_000 })
  })
})

test('a word of an opening on test counts nothing and is no news of its state', () => {
  const ledger = startLedger({ W01: COIN }, time('00:00'))
  const words = [entry('18:00 opened L', 'a'), entry('18:00:06 rest L 3600', 'b')].map(
    (word): Entry => ({ ...word, how: 'tested' }),
  )
  expect(inShort(read(applyAll(ledger, words), Date.parse(time('18:10')))[0]!)).toBe('no-word 0/0 [untested]')
})
