import { expect, test } from 'vitest'
import { uuidOf } from '../../src/text/uuid.ts'

test('a name has one UUID of version 8 (RFC 9562, section 5.8), and no other name has it', () => {
  const names = ['', 'a', 'ropewalk/tally\nW01', 'ropewalk/tally\nW02', 'ünï 窓']
  const all = names.map(uuidOf)
  // Version 8 in the third group, the variant's two bits 10 at the head of the fourth (section 4.1 and 4.2).
  for (const uuid of all) expect(uuid).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
  expect(new Set(all).size).toBe(names.length)
  expect(names.map(uuidOf)).toEqual(all)
  // All bits but version and variant are those of the digest: SHA-256 of "abc" (FIPS 180-4, appendix of examples).
  expect(uuidOf('abc')).toBe('ba7816bf-8f01-8fea-8141-40de5dae2223')
})
