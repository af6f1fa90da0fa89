import { describe, expect, it } from 'vitest'
import { applyAll, type Ledger, startLedger } from '../../src/ledger/apply.ts'
import { asTested } from '../../src/ledger/on-test.ts'
import { nextChange, read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { COIN, DOOR, time } from './notation.ts'

const entry = (clock: string, what: Entry['what'], more: Partial<Entry> = {}): Entry => ({
  id: `${clock} ${what} ${more.mark ?? ''}`,
  at: time(clock),
  mark: 'W01',
  what,
  how: 'live',
  ...more,
})

/** Plays entries as they come: words of a contact go by way of the test. */
function ledgerOf(...entries: Entry[]): Ledger {
  let ledger = startLedger({ W01: COIN, D01: DOOR }, time('00:00'))
  for (const one of entries) {
    const fold = ledger.marks[one.mark]?.fold
    const isWord = one.what === 'opened' || one.what === 'rest' || one.what === 'closed' || one.what === 'gone'
    const kept = isWord && fold ? asTested(one, fold) : one
    if (kept) ledger = applyAll(ledger, [kept])
  }
  return ledger
}
const reading = (clock: string, ...entries: Entry[]) => read(ledgerOf(...entries), Date.parse(time(clock)))[0]!
const onTest = entry('18:00', 'on-test', { until: time('18:30') })

describe('an opening that is on test', () => {
  it('keeps its words and counts nothing', () => {
    const made = reading('18:10', onTest, entry('18:05', 'opened'), entry('18:05:06', 'rest'))
    expect(made).toMatchObject({ position: 'no-word', openings: 0, sends: 0, onTestUntil: time('18:30') })
    expect(made).not.toHaveProperty('last')
    const { window } = ledgerOf(onTest, entry('18:05', 'opened')).marks.W01!
    expect(window.map(({ entry: { what, how } }) => [what, how])).toEqual([
      ['on-test', 'live'],
      ['opened', 'tested'],
    ])
  })

  it('counts again from the end of the test, which needs no entry', () => {
    expect(reading('18:30', onTest)).not.toHaveProperty('onTestUntil')
    expect(reading('18:31', onTest, entry('18:30', 'opened'))).toMatchObject({ position: 'opened', openings: 1 })
    expect(nextChange(ledgerOf(onTest), Date.parse(time('18:10')))).toBe(Date.parse(time('18:30')))
  })

  it('is on test until the last word of it: a second say moves the end, and one of no time ends it', () => {
    const longer = entry('18:10', 'on-test', { until: time('19:00') })
    expect(reading('18:40', onTest, longer, entry('18:35', 'opened'))).toMatchObject({ openings: 0 })
    const end = entry('18:10', 'on-test', { until: time('18:10') })
    expect(reading('18:20', onTest, end, entry('18:15', 'opened'))).toMatchObject({ openings: 1 })
  })

  it('was never on test where that was taken back, but what was kept as tested stays so', () => {
    const undone = entry('18:10', 'undone', { undoes: onTest.id })
    const made = reading('18:20', onTest, entry('18:05', 'opened'), undone, entry('18:15', 'opened'))
    expect(made).toMatchObject({ openings: 1 })
    expect(made).not.toHaveProperty('onTestUntil')
  })

  it('is not certain any more where it was shut: a real opening would not have counted', () => {
    const shut = [entry('17:00', 'opened'), entry('17:10', 'seen-closed')]
    expect(reading('17:30', ...shut)).not.toHaveProperty('unheard')
    expect(reading('18:10', ...shut, onTest)).toMatchObject({ position: 'closed', unheard: time('18:30') })
    const looked = entry('18:20', 'seen-closed')
    expect(reading('18:40', ...shut, onTest, looked), 'seen before the end').toMatchObject({ unheard: time('18:30') })
    expect(reading('18:40', ...shut, onTest, entry('18:35', 'seen-closed'))).not.toHaveProperty('unheard')
  })

  it('leaves an open one open', () => {
    const made = reading('18:10', entry('17:00', 'opened'), onTest, entry('18:05', 'opened'), entry('18:05:06', 'rest'))
    expect(made).toMatchObject({ position: 'opened', openings: 1, sends: 1, since: time('17:00') })
  })

  it('takes a copy that the broker kept for the test’s, and a word that waited only where all its time is the test’s', () => {
    const { fold } = ledgerOf(onTest).marks.W01!
    expect(asTested(entry('18:10', 'opened', { how: 'retained' }), fold)).toBeUndefined()
    const queued = (from: string, until: string) => entry(from, 'opened', { how: 'queued', until: time(until) })
    expect(asTested(queued('18:05', '18:20'), fold)).toMatchObject({ how: 'tested' })
    expect(asTested(queued('17:55', '18:20'), fold)).toMatchObject({ how: 'queued' })
    expect(asTested(queued('18:05', '18:40'), fold)).toMatchObject({ how: 'queued' })
  })

  it('neither proves nor disturbs another contact: a tested word is nobody’s twin, and spends nothing', () => {
    const words = [entry('18:05', 'opened'), entry('18:05:02', 'rest')]
    const other = entry('18:05:03', 'opened', { mark: 'D01' })
    const made = read(ledgerOf(onTest, ...words, other), Date.parse(time('18:10')))
    expect(made.map(({ doubts }) => doubts.includes('twin'))).toEqual([false, false])
    expect(made[0]).toMatchObject({ doubts: ['untested'], sends: 0 })
  })
})
