/** Lines of iCalendar: RFC 5545, section 3.1. */
import { utf8Length } from '../../register/topics.ts'
import { iso } from '../../text/time.ts'

const MOST_OCTETS = 75

/** One content line, folded: no line has more than 75 octets of UTF-8, and no character is cut in two. */
export function folded(line: string): string {
  let [text, octets] = ['', 0]
  for (const character of line) {
    const more = utf8Length(character)
    if (octets + more > MOST_OCTETS) {
      text += '\r\n '
      octets = 1
    }
    text += character
    octets += more
  }
  return `${text}\r\n`
}

/**
 * Text as a value: section 3.3.11. Control characters, which no value may hold, are left out; a tab may stand.
 * Half a character, which is no UTF-8, cannot stand either.
 */
export const textValue = (text: string): string =>
  text
    .replace(/\r\n?|[\u0085\u2028\u2029]/g, '\n')
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these are meant
    .replace(/[\u0000-\u0008\u000b-\u001f\u007f]|\p{Cs}/gu, '')
    .replace(/[\\;,]/g, sign => `\\${sign}`)
    .replaceAll('\n', '\\n')

/** `20261204` of `2026-12-04`. */
export const dateValue = (day: string): string => day.replaceAll('-', '')

/** `20261130T004249Z`: section 3.3.5, form 2. */
export const utcValue = (milliseconds: number): string => iso(milliseconds).replace(/[-:]|\.\d+/g, '')
