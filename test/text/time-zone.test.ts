import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { dayOf, localOf, momentOf, monthsTo } from '../../src/text/time-zone.ts'

const HOUR = 3_600_000
const iso = (text: string) => Date.parse(text)

describe('local days', () => {
  // Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last Sundays of March and October.
  test('the day that summer time begins has 23 hours, the day it ends 25', () => {
    for (const zone of ['Europe/Lisbon', 'Europe/Berlin', 'Europe/Athens']) {
      const spring = dayOf(iso('2026-03-29T12:00:00Z'), zone)
      const autumn = dayOf(iso('2026-10-25T12:00:00Z'), zone)
      expect((spring.to - spring.from) / HOUR).toBe(23)
      expect((autumn.to - autumn.from) / HOUR).toBe(25)
    }
    expect(momentOf('Europe/Lisbon', 2026, 3, 29, 1)).toBe(iso('2026-03-29T01:00:00Z'))
    expect(momentOf('Europe/Lisbon', 2026, 10, 25, 1)).toBe(iso('2026-10-25T00:00:00Z'))
    expect(momentOf('Europe/Lisbon', 2026, 10, 25, 2)).toBe(iso('2026-10-25T02:00:00Z'))
  })

  // IANA time zone database: Lord Howe moves its clock by half an hour; Santiago once skipped midnight.
  test('half-hour changes and a midnight that does not exist are right', () => {
    const day = dayOf(iso('2026-04-04T16:00:00Z'), 'Australia/Lord_Howe')
    expect((day.to - day.from) / HOUR).toBe(24.5)
    const skipped = momentOf('America/Santiago', 2022, 9, 11, 0)
    expect(localOf(skipped, 'America/Santiago')).toMatchObject({ day: 11, hour: 1, minute: 0 })
    expect(localOf(skipped - 1000, 'America/Santiago')).toMatchObject({ day: 10, hour: 23, minute: 59 })
  })

  test('every moment lies in its own local day, and local hours read back', () => {
    const zones = ['Europe/Lisbon', 'America/New_York', 'Asia/Kathmandu', 'Australia/Lord_Howe', 'Pacific/Apia', 'UTC']
    fc.assert(
      fc.property(
        fc.integer({ min: iso('2000-01-01T00:00:00Z') / 1000, max: iso('2037-12-31T00:00:00Z') / 1000 }),
        fc.constantFrom(...zones),
        (seconds, zone) => {
          const at = seconds * 1000
          const { from, to } = dayOf(at, zone)
          expect(from).toBeLessThanOrEqual(at)
          expect(at).toBeLessThan(to)
          expect(localOf(from, zone).day).toBe(localOf(at, zone).day)
          const { year, month, day, hour } = localOf(at, zone)
          const start = momentOf(zone, year, month, day, hour)
          expect(localOf(start, zone)).toMatchObject({ year, month, day, hour })
        },
      ),
    )
  })

  test('an unknown time zone is refused', () => {
    expect(() => dayOf(0, 'Ropewalk/Loft')).toThrow(RangeError)
  })

  test('a month is that of the local clock, with the hour that a change of the clock takes or gives', () => {
    expect(monthsTo(iso('2026-04-01T00:30:00Z'), 'Europe/Lisbon', 2)).toEqual([
      { name: '2026-03', from: iso('2026-03-01T00:00:00Z'), to: iso('2026-03-31T23:00:00Z') },
      { name: '2026-04', from: iso('2026-03-31T23:00:00Z'), to: iso('2026-04-30T23:00:00Z') },
    ])
    // Shorter, longer and of another month than what was asked for before.
    expect(monthsTo(iso('2026-04-02T00:00:00Z'), 'Europe/Lisbon', 1).map(({ name }) => name)).toEqual(['2026-04'])
    expect(monthsTo(iso('2026-01-15T00:00:00Z'), 'Europe/Lisbon', 13)[0]?.name).toBe('2025-01')
    expect(monthsTo(iso('2026-02-15T00:00:00Z'), 'Europe/Lisbon', 3)[1]).toEqual({
      name: '2026-01',
      from: iso('2026-01-01T00:00:00Z'),
      to: iso('2026-02-01T00:00:00Z'),
    })
  })
})
