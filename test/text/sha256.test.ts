import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { sha256Hex } from '../../src/text/sha256.ts'

// FIPS 180-2, appendix B.1 and B.2 (the examples of FIPS 180-4 refer to them).
test.each([
  ['abc', 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'],
  [
    'abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq',
    '248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1',
  ],
])('the digest of %s is that of the standard', (text, digest) => expect(sha256Hex(text)).toBe(digest))

test('the digest of any text is that of OpenSSL, around the ends of blocks too', () => {
  const is = (text: string): void => {
    expect(sha256Hex(text)).toBe(createHash('sha256').update(text).digest('hex'))
  }
  for (const length of [0, 1, 55, 56, 63, 64, 65, 119, 120, 1000]) is('ü'.repeat(length).slice(0, length))
  fc.assert(fc.property(fc.string({ unit: 'binary', maxLength: 300 }), is))
})
