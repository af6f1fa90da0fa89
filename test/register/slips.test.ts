import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import { type Slip, slipsIn } from './slips.ts'
import { written } from './written.ts'

const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')
const errorsOf = (text: string) => parseRegister(text).problems.filter(({ severity }) => severity === 'error')
/** Slips after which the text means the same, such as another indent inside braces, are none. */
const slips = [...slipsIn(example)]
const of = (kind: Slip['kind']): Slip[] => slips.filter(slip => slip.kind === kind)

describe.each(['comma', 'colon', 'quote', 'unquoted', 'indent', 'tab'] as const)('a slip with a %s', kind => {
  test('gives one error, beside its place, that names it', () => {
    const named = { right: 0, all: 0 }
    fc.assert(
      fc.property(fc.constantFrom(...of(kind)), slip => {
        const [first, ...more] = errorsOf(slip.text)
        if (!first) return
        expect(more).toEqual([])
        expect(Math.abs(first.line - 1 - slip.line)).toBeLessThanOrEqual(1)
        named.all++
        if (first.code === kind) named.right++
      }),
      { numRuns: 12 },
    )
    expect(named.all).toBeGreaterThan(0)
    expect(named.right / named.all).toBeGreaterThanOrEqual(0.8)
  })
})

const opening = (line: string) => written({ openings: `  - { mark: W01, name: Dye room, sender: coin }\n${line}` })
test.each([
  ['  - { mark: W02 name: Shop, sender: coin }', 8, 'none stands before name'],
  ['  - { mark: W02, name Shop, sender: coin }', 8, 'none stands behind name'],
  ['  - { mark:W02, name: Shop, sender: coin }', 8, 'A blank stands behind the colon of a key'],
  ["  - { mark: W02, name: 'Shop, sender: coin }", 8, 'put \' after "Shop"'],
  ["  - { mark: W02, name: Shop, corner', sender: coin }", 8, 'put \' before "Shop, corner"'],
  ["  - { mark: W02, name: 'It's Shop', sender: coin }", 8, "write ''"],
  ['  - { mark: W02, name: Stair: light, sender: coin }', 8, "write 'Stair: light'"],
  ['  - { mark: W02, name: Shop, corner, sender: coin }', 8, "write 'Shop, corner'"],
  ['   - { mark: W02, name: Shop, sender: coin }', 8, 'has 3 spaces and fits with 2'],
  ['\t- { mark: W02, name: Shop, sender: coin }', 8, 'a tab stands here'],
  ['  - { mark: W02, name: Shop, sender: coin', 8, 'put } here'],
])('%s: the sentence says which slip it was', (line, number, says) => {
  const [first, ...more] = errorsOf(opening(line))
  expect([first?.line, more]).toEqual([number, []])
  expect(first?.message).toContain(says)
})

test('sides without a comma are told at the list, not at every opening', () => {
  const text = example.replace('[south, east', '[south east')
  expect(errorsOf(text).map(({ code, line }) => `${line} ${code}`)).toEqual(['17 comma'])
})
test('two slips are two errors, and a mistake of another kind stays beside them', () => {
  const text = opening(
    '  - { mark: W02, name: Stair: light, sender: coin }\n  - { mark: W03 name: Shop, sender: doors }',
  )
  expect(errorsOf(text).map(({ code, line }) => `${line} ${code}`)).toEqual([
    '8 unquoted',
    '9 comma',
    '9 sender-unknown',
  ])
})
test('what no single slip explains is told as it is', () => {
  expect(errorsOf(opening('  - { mark W02 name Shop, sender, coin')).some(({ code }) => code === 'yaml')).toBe(true)
  expect(
    errorsOf(opening('  - { mark: W02, nmae: Shop, sender: coin }'))
      .map(({ code }) => code)
      .sort(),
  ).toEqual(['missing', 'unknown-key'])
})
test('what stands twice is told with the line of the first', () => {
  const twice = opening('  - { mark: w01, name: Shop, sender: coin, name: Store }')
  const messages = errorsOf(twice).map(({ message }) => message)
  expect(messages[0]).toContain('W01 of line 7 stands here again as w01')
  expect(messages[1]).toContain('"name" of line 8 stands here again')
})
