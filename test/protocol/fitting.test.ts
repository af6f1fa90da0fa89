import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import * as z from 'zod/mini'
import { fitting } from '../../src/protocol/fitting.ts'
import { amount, map, oneOf, some, text } from '../../src/protocol/parts.ts'
import { checked } from '../../src/protocol/problems.ts'

const schema = map({
  name: text(5),
  kind: oneOf(['sash', 'door']),
  width: z.exactOptional(amount),
  cell: z.exactOptional(map({ type: text(5), volts: z.exactOptional(map({ rested: amount })) })),
  sides: z.exactOptional(some(text(5), 3)),
  leaves: z.exactOptional(z.array(map({ width: amount }))),
})
const good = { name: 'loft', kind: 'sash' }

describe('what fits of a value', () => {
  test.each<[string, object, object | undefined]>([
    ['a value that fits comes back', { ...good, width: 3 }, { ...good, width: 3 }],
    ['an unknown key is left out', { ...good, colour: 'red' }, good],
    ['a field that may be absent is left out', { ...good, width: -1 }, good],
    ['a field that must be there is not', { ...good, kind: 'gate' }, undefined],
    ['a missing field is not made up', { kind: 'sash' }, undefined],
    ['a text that is too long is cut', { ...good, name: 'attic room' }, { ...good, name: 'attic' }],
    ['a text is cut between characters', { ...good, name: 'ab😀😀😀😀' }, { ...good, name: 'ab😀😀😀' }],
    [
      'the innermost part that may be absent is left out',
      { ...good, cell: { type: 'CR', volts: { rested: 'x' } } },
      { ...good, cell: { type: 'CR' } },
    ],
    ['where that is not enough, the part around it', { ...good, cell: { type: 7, volts: { rested: 'x' } } }, good],
    ['an item of a loose list is left out', { ...good, sides: ['a', 7, 'b'] }, { ...good, sides: ['a', 'b'] }],
    ['a loose list is cut', { ...good, sides: ['a', 'b', 'c', 'd'] }, { ...good, sides: ['a', 'b', 'c'] }],
    ['a strict list is left out whole', { ...good, leaves: [{ width: 1 }, { width: 'x' }] }, good],
    ['a list where a map is meant', [], undefined],
  ])('%s', (_name, value, expected) => {
    const before = structuredClone(value)
    expect(fitting(schema, value)).toEqual(expected)
    expect(value).toEqual(before)
  })

  test('fits the schema, whatever came', () => {
    const part = fc.oneof(fc.string(), fc.double(), fc.boolean(), fc.constant(null), fc.array(fc.string()))
    const value = fc.record(
      {
        name: fc.oneof(fc.string(), part),
        kind: fc.oneof(fc.constantFrom('sash', 'door'), part),
        width: part,
        cell: fc.oneof(part, fc.record({ type: part, volts: fc.oneof(part, fc.record({ rested: part })) })),
        sides: fc.oneof(part, fc.array(part)),
        leaves: fc.array(fc.record({ width: part })),
        ['__proto__']: part,
      },
      { requiredKeys: ['name', 'kind'] },
    )
    let found = 0
    fc.assert(
      fc.property(value, given => {
        const fits = fitting(schema, given)
        if (fits === undefined) return
        found++
        expect(schema.safeParse(fits)).toEqual({ success: true, data: fits })
      }),
      { numRuns: 2_000 },
    )
    expect(found).toBeGreaterThan(0)
  })
})

describe('what is wrong with a value', () => {
  const problems = (value: unknown) => {
    const result = checked(schema, value, 'a leaf')
    return 'problems' in result ? result.problems : []
  }

  test('is told whole, with its place and what was found', () => {
    expect(problems({ name: 'attic room', kind: 'gate', cell: { volts: { rested: 'x' } }, sides: ['a', 7] })).toEqual([
      'name is at most 5 characters (this one has 10)',
      'kind must be one of sash, door (found "gate")',
      'cell.type is missing',
      'cell.volts.rested must be a number, 0 or more (found "x")',
      'sides.1 must be text (found 7)',
    ])
    expect(problems('loft')).toEqual(['a leaf must be a JSON object (found "loft")'])
    expect(problems({})).toEqual(['name is missing', 'kind is missing: must be one of sash, door'])
  })

  test('ends after twenty problems, with how many more there are', () => {
    const told = problems({ ...good, leaves: Array.from({ length: 30 }, () => ({})) })
    expect(told).toHaveLength(21)
    expect(told.at(-1)).toBe('and 10 more')
  })

  test('holds nothing that steers a terminal', () => {
    expect(problems({ ...good, kind: '\u001b[31m' }).join()).toMatch(/found "\\u001B\[31m"/)
  })
})
