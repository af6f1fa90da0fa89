import type { Opening, Register } from '../../register/types.ts'
import { DAY, iso } from '../../text/time.ts'
import { uuidOf } from '../../text/uuid.ts'
import { dateValue, folded, textValue, utcValue } from './content-lines.ts'

/** A cell that should be changed by a day. */
export interface CellDue {
  readonly mark: string
  /** Day of the calendar in the house's time zone: `2026-12-04`. */
  readonly day: string
  /** Openings left, with their range, as a person reads it. */
  readonly left: string
  /** What that rests on. */
  readonly restsOn: string
}

/** Said wherever a cell is changed (IEC 60086-4; 16 CFR 1263, from memory). */
const CAUTION =
  'No loose cell within reach of a child: swallowed, it kills; medical help at once. Tape the poles of the spent one.'

/**
 * An iCalendar object with one all-day event a cell that is due. An event keeps its UID while its day moves.
 * @param at - when the tally was last added to, milliseconds since the epoch
 * @see RFC 5545; RFC 7986 for NAME and REFRESH-INTERVAL
 */
export function calendar(register: Register, dues: readonly CellDue[], at: number): string {
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  const events = dues.flatMap(due => {
    const opening = openings.get(due.mark)
    return opening ? [eventOf(opening, due, register, at)] : []
  })
  const lines = [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    'PRODID:-//sashtally//cells//EN',
    'CALSCALE:GREGORIAN',
    `NAME:${textValue(`${register.house}: cells`)}`,
    'REFRESH-INTERVAL;VALUE=DURATION:P1D',
    ...(events.length ? events.flat() : NO_EVENT),
    'END:VCALENDAR',
  ]
  return lines.map(folded).join('')
}

/** An object has at least one component (section 3.6): where no cell is due, the time zone that no event needs. */
const NO_EVENT = [
  'BEGIN:VTIMEZONE',
  'TZID:UTC',
  'BEGIN:STANDARD',
  'DTSTART:19700101T000000',
  'TZOFFSETFROM:+0000',
  'TZOFFSETTO:+0000',
  'END:STANDARD',
  'END:VTIMEZONE',
]

function eventOf({ mark, name, room, sender }: Opening, due: CellDue, { tally }: Register, at: number): string[] {
  const next = iso(Date.parse(`${due.day}T00:00:00Z`) + DAY).slice(0, 10)
  const about = `${due.left} openings left, by ${due.restsOn}. Prove the contact after the change.`
  return [
    'BEGIN:VEVENT',
    `UID:${uuidOf(`${tally}\n${mark}\ncell due`)}`,
    `DTSTAMP:${utcValue(at)}`,
    `DTSTART;VALUE=DATE:${dateValue(due.day)}`,
    `DTEND;VALUE=DATE:${dateValue(next)}`,
    `SUMMARY:${textValue(`Change the cell of ${mark} ${name}${sender.cell === undefined ? '' : ` (${sender.cell})`}`)}`,
    `DESCRIPTION:${textValue(`${about}\n${CAUTION}`)}`,
    ...(room === undefined ? [] : [`LOCATION:${textValue(room)}`]),
    'TRANSP:TRANSPARENT',
    'END:VEVENT',
  ]
}
