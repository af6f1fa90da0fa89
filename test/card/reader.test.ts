import fc from 'fast-check'
import { expect, test } from 'vitest'
import { Reader } from '../../src/card/controllers/reader.ts'
import { policyOf } from '../../src/house/policy.ts'
import { apply, type Ledger, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { parseRegister } from '../../src/register/parse.ts'

const { register } = parseRegister(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
provenWithinDays: 2
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Press room, sender: coin, takeAsClosedAfterMinutes: 30 }
  - { mark: W03, name: Attic studio, sender: coin, takeAsClosedAfterMinutes: 600 }
  - { mark: D01, name: Yard door, sender: yard }
`)
const policy = policyOf(register!)
const START = Date.parse('2026-11-25T09:00:00.000Z')
const NONE = {}
const said = (readings: Iterable<Reading>) => [...readings].map(({ asOf: _, ...rest }) => rest)

test('what is read a little at a time is what is read at once, whatever time passes between', () => {
  const step = fc.record({
    minutes: fc.oneof(fc.constant(0.05), fc.constant(2), fc.constant(31), fc.constant(601), fc.constant(3000)),
    mark: fc.constantFrom('W01', 'W02', 'W03', 'D01', undefined),
    what: fc.constantFrom<Entry['what']>('opened', 'rest', 'closed', 'gone', 'seen-closed', 'proved'),
  })
  fc.assert(
    fc.property(fc.array(step, { maxLength: 25 }), steps => {
      const reader = new Reader()
      let ledger = startLedger(policy, new Date(START).toISOString())
      let now = START
      for (const [n, { minutes, mark, what }] of steps.entries()) {
        now += minutes * 60_000
        const entry: Entry = { id: `${n}`, at: new Date(now).toISOString(), mark: mark ?? '', what, how: 'live' }
        if (mark) ledger = apply(ledger, entry)
        expect(said(reader.read(ledger, policy, NONE, now).values())).toEqual(said(read(ledger, now, policy, {})))
      }
    }),
    { numRuns: 200, seed: 6 },
  )
})

test('a clock that was set back is believed: what counts as long ago is read anew', () => {
  const reader = new Reader()
  const word: Entry = { id: 'a', at: new Date(START).toISOString(), mark: 'W02', what: 'opened', how: 'live' }
  const ledger = apply(startLedger(policy, word.at), word)
  const position = (now: number) => reader.read(ledger, policy, NONE, now).get('W02')?.position
  expect(position(START + 31 * 60_000)).toBe('taken-closed')
  expect(position(START + 5 * 60_000)).toBe('opened')
})

test('another tally in its place is read anew, with what it does not know', () => {
  const reader = new Reader()
  const word: Entry = { id: 'a', at: new Date(START).toISOString(), mark: 'W01', what: 'opened', how: 'live' }
  const empty = startLedger(policy, word.at)
  const position = (ledger: Ledger) => reader.read(ledger, policy, NONE, START + 60_000).get('W01')?.position
  expect(position(apply(empty, word))).toBe('opened')
  expect(position(empty)).toBe('no-word')
})

test('only what changed is read again, and nothing where no time has come', () => {
  const reader = new Reader()
  let ledger = startLedger(policy, new Date(START).toISOString())
  const opened = (mark: string): Entry => ({
    id: mark,
    at: new Date(START).toISOString(),
    mark,
    what: 'opened',
    how: 'live',
  })
  ledger = apply(apply(ledger, opened('W01')), opened('W02'))
  const read = (at: number) => new Map(reader.read(ledger, policy, NONE, at))
  const first = read(START)
  for (const [mark, reading] of read(START + 1)) expect(reading).toBe(first.get(mark))
  const later = read(START + 31 * 60_000)
  expect(later.get('W02')).toMatchObject({ position: 'taken-closed' })
  expect(later.get('W03')).toBe(first.get('W03'))
  expect(later.get('D01')).toBe(first.get('D01'))
})
