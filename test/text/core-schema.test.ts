import fc from 'fast-check'
import { expect, test } from 'vitest'
import { parseDocument } from 'yaml'
import { coreSchema } from '../../src/text/browser/yaml-core-schema.ts'

const readByCard = (text: string): unknown => {
  const tag = coreSchema.tags.find(({ test }) => test?.test(text))
  return tag ? tag.resolve(text) : text
}

/** The scalar as the package itself reads it. */
const readByPackage = (text: string): unknown =>
  (parseDocument(text, { schema: 'core', resolveKnownTags: false }).contents as { value?: unknown } | null)?.value

// YAML 1.2.2, section 10.3.2, example 10.9, and what stands near its rules.
test.each([
  ['null', null],
  ['Null', null],
  ['~', null],
  ['nULL', 'nULL'],
  ['true', true],
  ['FALSE', false],
  ['yes', 'yes'],
  ['0', 0],
  ['0o7', 7],
  ['0x3A', 58],
  ['-19', -19],
  ['+12', 12],
  ['007', 7],
  ['0.', 0],
  ['-0.0', -0],
  ['.5', 0.5],
  ['+12e03', 12_000],
  ['-2E+05', -200_000],
  ['.inf', Infinity],
  ['-.Inf', -Infinity],
  ['+.INF', Infinity],
  ['.NAN', Number.NaN],
  ['-.nan', '-.nan'],
  ['1:30', '1:30'],
  ['0b11', '0b11'],
  ['1_000', '1_000'],
  ['.', '.'],
  ['1e', '1e'],
])('the scalar %s of the core schema', (text, value) => {
  expect(readByCard(text)).toBe(value)
  expect(readByPackage(text)).toBe(value)
})

test('what looks like a number or a name is read as the package reads it', () => {
  const near = fc.string({ unit: fc.constantFrom(...'0123456789+-.eExXoOaFinfNtruls~'), minLength: 1, maxLength: 8 })
  fc.assert(
    fc.property(near, text => {
      fc.pre(!/^[-.]+$|^---|^[-?] /.test(text))
      expect(readByCard(text)).toBe(readByPackage(text))
    }),
    { numRuns: 5_000 },
  )
})
