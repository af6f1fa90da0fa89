import { describe, expect, test } from 'vitest'
import { table } from '../../src/cli/tally/tally-table.ts'
import { leftOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'

const { register } = parseRegister(`house: Ropewalk Studios
timezone: UTC
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Dye room, sender: coin, cellFitted: 2026-03-01 }
`)
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
    return table(read(ledger, now, policyOf(register!), leftOf(register!, ledger, now)), ledger, register!)
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
  test('marks sends before the count, and says what the figures rest on', () => {
    const text = told(entry('a', '08:00', 'opened'))
    expect(text).toMatch(/ 1\+ +11 \(0 to 3\d\)/)
    expect(text).toMatch(/rests on common practice\.\n\+ it may have sent more before the count began/)
    const fresh = told(entry('f', '07:00', 'cell-fitted'), entry('a', '08:00', 'opened'))
    expect(fresh).toMatch(/ 1 +\d+ \(/)
    expect(fresh).not.toMatch(/\+ more/)
  })
})
