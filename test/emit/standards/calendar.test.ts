import fc from 'fast-check'
// An independent reader of RFC 5545.
import ICAL from 'ical.js'
import { describe, expect, test } from 'vitest'
import { type CellDue, calendar } from '../../../src/emit/standards/calendar.ts'
import type { Register } from '../../../src/register/types.ts'
import { anyHouse } from '../houses.ts'
import { house, W01, W02 } from '../ropewalk.ts'

const AT = Date.parse('2026-11-25T21:47:00.000Z')
const due = (mark: string, day = '2026-12-31'): CellDue => ({
  mark,
  day,
  left: '5 (0.7 to 18)',
  restsOn: 'common practice',
})
const register = house([W01, W02])

const eventsOf = (text: string) => {
  const root = new ICAL.Component(ICAL.parse(text))
  expect(root.name).toBe('vcalendar')
  return root.getAllSubcomponents('vevent').map(each => new ICAL.Event(each))
}
const linesOf = (text: string): string[] => {
  expect(text.endsWith('\r\n')).toBe(true)
  expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/)
  return text.slice(0, -2).split('\r\n')
}

describe('the calendar', () => {
  test('has one event of a whole day for each cell that is due', () => {
    const text = calendar(register, [due('W01'), due('W02', '2027-03-01')], AT)
    const [first, second, ...more] = eventsOf(text)
    expect(more).toEqual([])
    expect(first).toMatchObject({
      summary: 'Change the cell of W01 Dye room, south (CR2032)',
      location: 'Dye room',
      description: expect.stringMatching(
        /^5 \(0\.7 to 18\) openings left, by common practice\. .*\n.*swallowed, it kills/,
      ),
    })
    expect([first!.startDate.isDate, first!.startDate.toString(), first!.endDate.toString()]).toEqual([
      true,
      '2026-12-31',
      '2027-01-01',
    ])
    expect([second!.startDate.toString(), second!.duration.toSeconds()]).toEqual(['2027-03-01', 86_400])
    expect(second!.component.getFirstPropertyValue('dtstamp')?.toString()).toBe('2026-11-25T21:47:00Z')
    expect(second!.location).toBeFalsy()
  })

  test('keeps the UID of an event while its day, its name and its figures move, and no two have one', () => {
    const uids = (given: Register, dues: readonly CellDue[]) =>
      eventsOf(calendar(given, dues, AT)).map(({ uid }) => uid)
    const [first, second] = uids(register, [due('W01'), due('W02')])
    expect(first).not.toBe(second)
    const renamed = house([W01.replace('Dye room, south', 'Loft'), W02])
    expect(uids(renamed, [due('W02', '2028-02-29'), { ...due('W01'), left: '1' }])).toEqual([second, first])
  })

  test('is an object of its own where no cell is due: it has no event, and one component (RFC 5545, section 3.6)', () => {
    const root = new ICAL.Component(ICAL.parse(calendar(register, [], AT)))
    expect(root.getAllSubcomponents().map(({ name }) => name)).toEqual(['vtimezone'])
    expect(eventsOf(calendar(register, [due('W77')], AT))).toEqual([])
  })

  test('has what RFC 5545 asks of a calendar and an event, once each', () => {
    const lines = linesOf(calendar(register, [due('W01')], AT))
    for (const name of ['VERSION', 'PRODID', 'UID', 'DTSTAMP', 'DTSTART;VALUE=DATE', 'DTEND;VALUE=DATE'])
      expect([name, lines.filter(line => line.startsWith(`${name}:`)).length]).toEqual([name, 1])
    expect(lines.at(0)).toBe('BEGIN:VCALENDAR')
    expect(lines).toContain('VERSION:2.0')
    expect(lines.at(-1)).toBe('END:VCALENDAR')
  })

  test('any name and room comes back, lines are folded at 75 octets, and nothing else gets in', () => {
    fc.assert(
      fc.property(anyHouse, given => {
        const text = calendar(
          given,
          given.openings.map(({ mark }) => due(mark)),
          AT,
        )
        for (const line of linesOf(text)) expect(new TextEncoder().encode(line).length).toBeLessThanOrEqual(75)
        const events = eventsOf(text)
        const cells = given.openings.map(
          ({ mark, name, sender }) => `Change the cell of ${mark} ${name}${sender.cell ? ` (${sender.cell})` : ''}`,
        )
        expect(events.map(({ summary }) => summary)).toEqual(cells.map(asValue))
        expect(events.map(({ location }) => location)).toEqual(given.openings.map(({ room }) => asValue(room!)))
        expect(text.match(/^BEGIN:/gm)).toHaveLength(given.openings.length + 1)
      }),
      { numRuns: 300 },
    )
  })
})

/** What a text value can hold of a text: line ends as line feeds, and no control character but the tab. */
const asValue = (text: string): string =>
  text
    .replace(/\r\n?|[\u0085\u2028\u2029]/g, '\n')
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these are meant
    .replace(/[\u0000-\u0008\u000b-\u001f\u007f]/g, '')
