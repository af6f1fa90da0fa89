import { describe, expect, it } from 'vitest'
import { metricsText } from '../../src/keeper/publish/metrics.ts'
import { type Health, verdictOf } from '../../src/keeper/publish/verdict.ts'
import { RefusalLog } from '../../src/keeper/session/refusal-log.ts'
import { readOpenMetrics } from '../support/open-metrics.ts'

const HOUR = 3_600_000
const WELL: Health = {
  isSettled: true,
  isKeeping: true,
  hasProblem: false,
  beat: { at: Date.UTC(2026, 10, 30, 8), ageMilliseconds: 12_900 },
  entries: 274_604,
  waiting: 0,
  refused: 3,
  backupAgeMilliseconds: 8 * HOUR,
  diskFreeBytes: 20_500_000_000,
}
const { beat: _beat, ...NO_BEAT } = WELL

describe('whether a keeper does its work', () => {
  it.each([
    [undefined, 'not at work: no broker has answered yet, or another keeper has the house'],
    [{ ...WELL, isKeeping: false }, 'not at work: the store takes no entries'],
    [{ ...WELL, isSettled: false }, /^not at work: the broker is not reached, or does not let this account/],
    [NO_BEAT, /^not at work: the broker is not reached/],
    [{ ...WELL, beat: { at: 0, ageMilliseconds: 90_001 } }, 'not at work: the broker has taken no beat for 90 s'],
  ])('it does not: %j', (health, text) => {
    const verdict = verdictOf(health)
    expect(verdict.isWell).toBe(false)
    expect(verdict.text).toMatch(text)
  })
  it('it does, up to the age at which walls give a keeper up', () => {
    expect(verdictOf(WELL)).toEqual({ isWell: true, text: 'at work: the last beat was 12 s ago' })
    expect(verdictOf({ ...WELL, beat: { at: 0, ageMilliseconds: 90_000 } }).isWell).toBe(true)
  })
  it('by an older register it does, and why is said', () => {
    expect(verdictOf(WELL, 'register')).toEqual({
      isWell: true,
      text: 'at work by its older register: its register has errors or cannot be read',
      reason: 'register',
    })
    expect(verdictOf(NO_BEAT, 'register').text).toMatch(/^not at work: the broker is not reached/)
    expect(verdictOf(undefined, 'clash').text).toMatch(/^not at work: another house has a tally, topic or client id/)
  })
  it('what stands on its state is said, but not what it is', () => {
    const text = 'at work, and something wants a person: the wall and the log say what'
    expect(verdictOf({ ...WELL, hasProblem: true })).toEqual({ isWell: true, text })
  })
})

describe('the figures', () => {
  const valuesOf = (health: Health | undefined) =>
    Object.fromEntries(readOpenMetrics(metricsText(health)).map(({ name, value }) => [name, value]))

  it('are OpenMetrics, each in its unit', () => {
    expect(valuesOf(WELL)).toEqual({
      sashtally_at_work: 1,
      sashtally_last_beat_timestamp_seconds: Date.UTC(2026, 10, 30, 8) / 1000,
      sashtally_entries: 274_604,
      sashtally_waiting_messages: 0,
      sashtally_refused_messages: 3,
      sashtally_backup_age_seconds: 8 * 3600,
      sashtally_disk_free_bytes: 20_500_000_000,
    })
  })
  it('before the first backup its age is infinite, and where none are made there is none', () => {
    expect(valuesOf({ ...WELL, backupAgeMilliseconds: Number.POSITIVE_INFINITY })).toMatchObject({
      sashtally_backup_age_seconds: Number.POSITIVE_INFINITY,
    })
    const { backupAgeMilliseconds: _age, diskFreeBytes: _free, ...rest } = NO_BEAT
    expect(Object.keys(valuesOf(rest))).toEqual([
      'sashtally_at_work',
      'sashtally_entries',
      'sashtally_waiting_messages',
      'sashtally_refused_messages',
    ])
  })
  it('before the keeper is at work there is that alone', () => {
    expect(valuesOf(undefined)).toEqual({ sashtally_at_work: 0 })
  })
})

it('what was refused counts for a day', () => {
  let now = 0
  const log = new RefusalLog(
    () => now,
    () => {},
  )
  expect(log.lastDay).toBe(0)
  log.say(['a', 'b'])
  now = HOUR / 2
  log.say(['c'])
  now = 23.5 * HOUR
  log.say(['d'])
  expect(log.lastDay).toBe(4)
  now = 24 * HOUR
  expect(log.lastDay).toBe(1)
  log.say([])
  now = 47 * HOUR
  expect(log.lastDay).toBe(0)
})
