import { expect, test } from 'vitest'
import { clamp } from '../../src/text/clamp.ts'
import { firstOf, listed } from '../../src/text/lists.ts'
import { own } from '../../src/text/own.ts'
import { utf8Text } from '../../src/text/utf8.ts'

test('names in a sentence', () => {
  expect([[], ['a'], ['a', 'b'], ['a', 'b', 'c']].map(names => listed(names))).toEqual([
    '',
    'a',
    'a and b',
    'a, b and c',
  ])
  expect(listed(['a', 'b'], 'or')).toBe('a or b')
})

test('of many names only so many are said, and the rest is counted', () => {
  const names = ['a', 'b', 'c', 'd']
  expect(firstOf(names, 4)).toBe('a, b, c, d')
  expect(firstOf(names, 3)).toBe('a, b and 2 more')
})

test('a key that every object has is no key of a record', () => {
  expect(own({ W01: 1 }, 'W01')).toBe(1)
  expect(own<number>({}, 'constructor')).toBeUndefined()
})

// RFC 3629, section 3, and the replacement of The Unicode Standard, section 3.9 (U+FFFD substitution).
test('bytes that are no UTF-8 become U+FFFD, and a long payload is cut', () => {
  expect(utf8Text(Uint8Array.of(0xc3, 0xbc, 0xff))).toBe('ü\uFFFD')
  expect(utf8Text(Uint8Array.of(0x61, 0x62, 0x63), 2)).toBe('ab')
})

test('a value outside its range is the nearer end', () => {
  expect([-1, 0.5, 2].map(value => clamp(value, 0, 1))).toEqual([0, 0.5, 1])
})
