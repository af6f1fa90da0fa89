import { describe, expect, it } from 'vitest'
import { moment, momentBefore } from '../../src/cli/program/moment.ts'
import { localTime } from '../../src/text/local-time.ts'

const LISBON = 'Europe/Lisbon'
const now = Date.parse('2026-11-25T21:47:00Z') // a Wednesday
const meant = (text: string, zone = LISBON, at = now): string | undefined => {
  const reading = moment.read(text)
  return 'value' in reading ? new Date(momentBefore(reading.value, zone, at)).toISOString() : undefined
}

describe('a time as a person writes it', () => {
  it('is the last such moment on the clocks of the house', () => {
    expect(meant('Fri 09:00')).toBe('2026-11-20T09:00:00.000Z')
    expect(meant('friday 9:00')).toBe('2026-11-20T09:00:00.000Z')
    expect(meant('Wed 09:00')).toBe('2026-11-25T09:00:00.000Z')
    expect(meant('Wed 23:00')).toBe('2026-11-18T23:00:00.000Z')
    expect(meant('Wed')).toBe('2026-11-25T00:00:00.000Z')
    expect(meant('09.30')).toBe('2026-11-25T09:30:00.000Z')
    expect(meant('22:00')).toBe('2026-11-24T22:00:00.000Z')
  })
  it('is a date in the time zone of the house', () => {
    expect(meant('2026-07-01')).toBe('2026-06-30T23:00:00.000Z')
    expect(meant('2026-07-01 09:00')).toBe('2026-07-01T08:00:00.000Z')
    expect(meant('2026-07-01T09:00', 'Asia/Kolkata')).toBe('2026-07-01T03:30:00.000Z')
    expect(meant('2026-07-01T09:00:00Z')).toBe('2026-07-01T09:00:00.000Z')
    expect(meant('2026-07-01T09:00:00+02:00')).toBe('2026-07-01T07:00:00.000Z')
  })
  it('that the clocks skip is an hour later, one that they show twice is the first', () => {
    expect(meant('2026-03-29 01:30')).toBe('2026-03-29T01:30:00.000Z')
    expect(localTime('2026-03-29T01:30:00.000Z', LISBON)).toBe('Sun 2026-03-29 02:30')
    expect(meant('2026-10-25 01:30')).toBe('2026-10-25T00:30:00.000Z')
  })
  it('is refused when it is none', () => {
    for (const text of [
      '',
      'soon',
      '25:00',
      '09:60',
      'Xyz 09:00',
      '2026-02-30',
      '2026-13-01',
      'Fri 2026-01-01',
      '9',
      '2026-07-01T09:00:00X',
    ]) {
      expect([text, meant(text)]).toEqual([text, undefined])
    }
  })
})
