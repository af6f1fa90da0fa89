import { describe, expect, test } from 'vitest'
import { openedSince, sinceText } from '../../src/cli/tally/opened-since.ts'
import { table } from '../../src/cli/tally/tally-table.ts'
import { leftOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'

const REGISTER = `house: Ropewalk Studios
timezone: UTC
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Dye room, sender: coin, cellFitted: 2026-03-01 }
`
const YARD = `  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
`
const { register } = parseRegister(REGISTER)
const at = (time: string): string => `2026-05-01T${time}:00.000Z`
const entry = (id: string, time: string, what: Entry['what'], more: Partial<Entry> = {}): Entry => ({
  id,
  at: at(time),
  mark: 'W01',
  what,
  how: 'live',
  ...more,
})

describe('the table of a tally', () => {
  const now = Date.parse(at('20:00'))
  const told = (...entries: Entry[]): string => {
    const ledger = applyAll(startLedger(policyOf(register!), at('00:00')), entries)
    return table(read(ledger, now, policyOf(register!), leftOf(register!, ledger, now)), 'counted', register!, ledger)
  }
  const waited = entry('a', '08:00', 'opened', { how: 'queued', until: at('12:00') })
  test('says of a word that waited between which times it was said', () => {
    expect(told(waited)).toMatch(
      /opened, nobody has seen it shut between Fri 2026-05-01 08:00 and Fri 2026-05-01 12:00/,
    )
  })
  test('a look that waited too is of its latest time, never of one before the opening', () => {
    const look = entry('b', '08:00', 'seen-closed', { how: 'queued', until: at('12:00') })
    expect(told(waited, look)).toMatch(/closed Fri 2026-05-01 12:00/)
  })
  test('says that nobody listened', () => {
    const shut = [entry('a', '08:00', 'opened'), entry('b', '09:00', 'seen-closed')]
    const gap = entry('c', '10:00', 'note', { by: 'sashtally', text: 'unheard' })
    expect(told(...shut, gap)).toMatch(/closed Fri 2026-05-01 09:00, but nobody listened until Fri 2026-05-01 10:00/)
  })
  test('says of an opening on test until when that is, not that nobody listened until then', () => {
    const shut = [entry('a', '08:00', 'opened'), entry('b', '09:00', 'seen-closed')]
    const tested = told(...shut, entry('t', '19:59', 'on-test', { how: 'said', until: at('20:03') }))
    expect(tested).toMatch(/closed Fri 2026-05-01 09:00, on test until Fri 2026-05-01 20:03: what it says counts/)
    expect(tested).not.toMatch(/nobody listened/)
    const over = told(...shut, entry('t', '19:00', 'on-test', { how: 'said', until: at('19:03') }))
    expect(over, 'what the test may have hidden').toMatch(/nobody listened until Fri 2026-05-01 19:03/)
  })
  test('says that the contact of an opening that somebody saw shut said open last', () => {
    const text = `${REGISTER}  - { mark: D01, name: Yard door, kind: door, sender: yard }\n`.replace(
      'openings:\n',
      YARD,
    )
    const { register: house } = parseRegister(text)
    const words = [entry('a', '08:00', 'opened', { mark: 'D01' }), entry('b', '09:00', 'seen-closed', { mark: 'D01' })]
    const ledger = applyAll(startLedger(policyOf(house!), at('00:00')), words)
    expect(table(read(ledger, now, policyOf(house!)), 'counted', house!, ledger)).toMatch(
      /D01 +Yard door +closed Fri 2026-05-01 09:00, but its contact said open/,
    )
  })
  test('names the openings of which some may have been counted twice', () => {
    const again = entry('b', '09:00', 'opened', { maybeAgain: true })
    expect(told(entry('a', '08:00', 'opened'), again)).toMatch(
      /\nOf W01 some openings may be one word that came twice\.\n/,
    )
    expect(told(entry('a', '08:00', 'opened'))).not.toMatch(/came twice/)
  })
  test('marks sends before the count, and says what the figures rest on', () => {
    const text = told(entry('a', '08:00', 'opened'))
    expect(text).toMatch(/ 1\+ +11 \(0 to 3\d\)/)
    expect(text).toMatch(/rests on common practice\.\n\+ it may have sent more before the count began/)
    const fresh = told(entry('f', '07:00', 'cell-fitted'), entry('a', '08:00', 'opened'))
    expect(fresh).toMatch(/ 1 +\d+ \(/)
    expect(fresh).not.toMatch(/\+ more/)
  })
})

describe('what opened since a time', () => {
  const since = Date.parse(at('06:00'))
  const told = (...entries: Entry[]): string =>
    sinceText(openedSince(register!, { since: () => entries }, since), since, register!)

  test('of a word by a clock that was wrong is told as after a time, until the clock is set', () => {
    const wrong = entry('a', '07:00', 'opened', { how: 'queued' })
    expect(told(wrong)).toMatch(/opened at some time after Fri 2026-05-01 07:00 \(the clock was wrong\)/)
    const set = entry('n', '07:00', 'note', { until: at('09:00'), by: 'sashtally', text: 'clock' })
    expect(told(wrong, set)).toMatch(/opened between Fri 2026-05-01 07:00 and Fri 2026-05-01 09:00\n/)
    const later = entry('b', '10:00', 'opened', { how: 'queued' })
    expect(told(entry('c', '06:30', 'opened'), later)).toMatch(
      /2 times, the first at Fri 2026-05-01 06:30, the last at some time after Fri 2026-05-01 10:00/,
    )
  })
  test('of a word that waited is told with both ends of its time', () => {
    const waited = entry('a', '11:02', 'opened', { how: 'queued', until: at('11:29') })
    expect(told(waited)).toMatch(/W01 .*: opened between Fri 2026-05-01 11:02 and Fri 2026-05-01 11:29\n/)
    expect(told(entry('b', '07:00', 'opened'), waited)).toMatch(
      /2 times, the first at Fri 2026-05-01 07:00, the last between Fri 2026-05-01 11:02 and Fri 2026-05-01 11:29\n/,
    )
    const early = entry('a', '05:00', 'opened', { how: 'queued', until: at('11:29') })
    expect(told(early)).toMatch(
      /between Fri 2026-05-01 05:00 and Fri 2026-05-01 11:29 \(perhaps before Fri 2026-05-01 06:00\)/,
    )
    expect(told(entry('b', '07:00', 'opened'), entry('c', '08:00', 'opened'))).toMatch(
      /2 times, Fri 2026-05-01 07:00 to Fri 2026-05-01 08:00\n/,
    )
  })

  test('of more openings than a story keeps has the first and the last of all', () => {
    const minutes = Array.from({ length: 50 }, (_, n) => entry(`e${n}`, `07:${10 + n}`, 'opened'))
    expect(told(...minutes)).toMatch(/50 times, Fri 2026-05-01 07:10 to Fri 2026-05-01 07:59\n/)
  })

  test('says which may be the same word once more', () => {
    const again = entry('b', '08:00', 'opened', { maybeAgain: true })
    expect(told(entry('a', '07:00', 'opened'), again)).toMatch(
      /2 times, .* \(1 of them perhaps the same word once more, not another opening\)/,
    )
    expect(told(again)).toMatch(/at Fri 2026-05-01 08:00 \(perhaps the same word once more, not another opening\)/)
  })
})
