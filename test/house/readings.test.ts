import fc from 'fast-check'
import { expect, test } from 'vitest'
import { step } from '../../src/house/machine.ts'
import { policyOf } from '../../src/house/policy.ts'
import { startHouse } from '../../src/house/state.ts'
import { startLedger } from '../../src/ledger/apply.ts'
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
const START = Date.parse('2026-11-25T09:00:00.000Z')
const said = (readings: Iterable<Reading>) => [...readings].map(({ asOf: _, ...rest }) => rest)

class Played {
  state = step(startHouse(startLedger({}, new Date(START).toISOString())), {
    kind: 'register',
    register: register!,
    policies: policyOf(register!),
    id: 'r',
    now: START,
  }).state

  entries(now: number, ...entries: readonly Entry[]): this {
    this.state = step(this.state, { kind: 'entries', entries, now }).state
    return this
  }

  time(now: number): this {
    this.state = step(this.state, { kind: 'time', now }).state
    return this
  }

  reading = (mark: string) => this.state.readings.get(mark)
}

test('another tally in its place is read anew, with what it does not know', () => {
  const empty = startLedger(policyOf(register!), new Date(START).toISOString())
  const word: Entry = { id: 'a', at: empty.since!, mark: 'W01', what: 'opened', how: 'live' }
  const played = new Played().entries(START, word)
  expect(played.reading('W01')?.position).toBe('open')
  const begun = step(played.state, {
    kind: 'register',
    register: register!,
    policies: policyOf(register!),
    ledger: empty,
    id: 'r2',
    now: START + 60_000,
  })
  expect(begun.state.readings.get('W01')).toMatchObject({ position: 'no-word', openings: 0 })
  expect([...begun.state.readings.keys()]).toEqual(['W01', 'W02', 'W03', 'D01'])
})

test('what is read a little at a time is what is read at once, whatever time passes between', () => {
  const happening = fc.record({
    minutes: fc.oneof(fc.constant(0.05), fc.constant(2), fc.constant(31), fc.constant(601), fc.constant(3000)),
    mark: fc.constantFrom('W01', 'W02', 'W03', 'D01', undefined),
    what: fc.constantFrom<Entry['what']>('opened', 'rest', 'closed', 'gone', 'seen-closed', 'proved'),
  })
  fc.assert(
    fc.property(fc.array(happening, { maxLength: 25 }), happenings => {
      const played = new Played()
      let now = START
      for (const [n, { minutes, mark, what }] of happenings.entries()) {
        now += minutes * 60_000
        const entry: Entry = { id: `${n}`, at: new Date(now).toISOString(), mark: mark ?? '', what, how: 'live' }
        if (mark) played.entries(now, entry)
        else played.time(now)
        const { ledger, readings, left } = played.state
        expect(said(readings.values())).toEqual(said(read(ledger, now, ledger.policy, left)))
      }
    }),
    { numRuns: 200, seed: 6 },
  )
})

const opened = (mark: string): Entry => ({
  id: mark,
  at: new Date(START).toISOString(),
  mark,
  what: 'opened',
  how: 'live',
})

test('a clock that was set back is believed: what counts as long ago is read anew', () => {
  const played = new Played().entries(START, opened('W02'))
  expect(played.time(START + 31 * 60_000).reading('W02')?.position).toBe('taken-closed')
  expect(played.time(START + 5 * 60_000).reading('W02')?.position).toBe('opened')
})

test('only what changed is read again, and nothing where no time has come', () => {
  const played = new Played().entries(START, opened('W01'), opened('W02'))
  const first = played.state.readings
  for (const [mark, reading] of played.time(START + 1).state.readings) expect(reading).toBe(first.get(mark))
  played.time(START + 31 * 60_000)
  expect(played.reading('W02')).toMatchObject({ position: 'taken-closed' })
  expect(played.reading('W03')).toBe(first.get('W03'))
  expect(played.reading('D01')).toBe(first.get('D01'))
})
