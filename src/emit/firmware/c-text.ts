import { utf8Bytes, utf8Text } from '../../text/utf8.ts'

/**
 * A C string literal that is the same text in C99 and C++17: bytes of UTF-8, all that is not plain printable ASCII as
 * three-digit octal escapes, question marks escaped so that no trigraph forms (ISO/IEC 9899:1999, 5.2.1.1 and 6.4.4.4).
 */
export function cString(text: string): string {
  let literal = ''
  for (const byte of utf8Bytes(text)) {
    if (byte === 0x22 || byte === 0x5c || byte === 0x3f) literal += `\\${String.fromCharCode(byte)}`
    else if (byte >= 0x20 && byte < 0x7f) literal += String.fromCharCode(byte)
    else literal += `\\${byte.toString(8).padStart(3, '0')}`
  }
  return `"${literal}"`
}

const SIMPLE: Readonly<Record<string, number>> = { a: 7, b: 8, t: 9, n: 10, v: 11, f: 12, r: 13 }

/**
 * The text of a C string literal: what `cString` makes, and what a person may write (simple, octal and hexadecimal
 * escapes, ISO/IEC 9899:1999, 6.4.4.4). Several literals side by side are not read.
 */
export function cText(literal: string): string {
  const bytes: number[] = []
  const pieces = /\\(?:([0-7]{1,3})|x([0-9A-Fa-f]+)|(.))|([^\\])/gsu
  for (const [, octal, hex, simple, plain] of literal.slice(1, -1).matchAll(pieces)) {
    if (octal !== undefined) bytes.push(Number.parseInt(octal, 8) & 255)
    else if (hex !== undefined) bytes.push(Number.parseInt(hex, 16) & 255)
    else if (simple !== undefined && SIMPLE[simple] !== undefined) bytes.push(SIMPLE[simple])
    else bytes.push(...utf8Bytes(simple ?? plain ?? ''))
  }
  return utf8Text(Uint8Array.from(bytes))
}

/** Text for a C comment on one line: letters, digits and harmless signs stay, all else becomes a full stop. */
export const cComment = (text: string): string =>
  text
    .replace(/[^\p{L}\p{N}\p{M} ,.:;()+=_'%/-]/gu, '.')
    .replace(/\/(?=[*/])/g, '.')
    .slice(0, 200)
