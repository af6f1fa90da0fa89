import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import { formatProblem, withoutMark } from '../../src/register/problems.ts'
import { sound, written } from './written.ts'

const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')

/** What holds for any text whatever. */
function answersFor(text: string): void {
  const { register, problems } = parseRegister(text)
  const lines = withoutMark(text).split('\n')
  expect(register === undefined).toBe(problems.some(problem => problem.severity === 'error'))
  for (const problem of problems) {
    const line = lines[problem.line - 1]
    expect(line).toBeDefined()
    expect(problem.column).toBeGreaterThanOrEqual(1)
    expect(problem.column).toBeLessThanOrEqual(line!.length + 1)
    expect(problem.length).toBeGreaterThanOrEqual(1)
    expect(problem.column - 1 + problem.length).toBeLessThanOrEqual(Math.max(line!.length, problem.column))
    expect(problem.path).toMatch(/^(?:\/(?:[^~/]|~[01])*)*$/)
    expect(problem.code).toMatch(/^[a-z][a-z0-9-]*$/)
    expect(problem.message).not.toMatch(/[\p{Cc}\p{Cs}]/u)
    const shown = formatProblem(problem, text, 'r.yaml')
    expect(shown.split('\n').length).toBeLessThanOrEqual(3)
    expect(shown.replaceAll(/[\n\t]/g, '')).not.toMatch(/[\p{Cc}\p{Cs}]/u)
  }
  const places = problems.filter(problem => problem.code !== 'more').map(problem => problem.line * 1e7 + problem.column)
  expect(places).toEqual([...places].sort((a, b) => a - b))
}

const bits = fc.oneof(
  fc.constantFrom(
    '\t',
    '\r',
    '\n',
    '\n---\n',
    '&a ',
    '*a',
    '!t ',
    '{',
    '}',
    '[',
    ']',
    ': ',
    ', ',
    '"',
    "'",
    '|\n',
    '#',
    '? ',
    '- ',
    '\0',
    '\uFEFF',
    '\ud800',
    '窓',
    'yes',
    '007',
    'null',
    '__proto__: ',
    '<<: ',
  ),
  fc.string({ unit: 'binary', maxLength: 12 }),
)
const edit = fc.tuple(fc.nat(example.length), fc.nat(30), bits)

test('no edit of the example throws, and every place lies in the text', () => {
  fc.assert(
    fc.property(fc.array(edit, { minLength: 1, maxLength: 6 }), edits => {
      let text = example
      for (const [at, cut, put] of edits) text = text.slice(0, at) + put + text.slice(at + cut)
      answersFor(text)
    }),
    { numRuns: 150 },
  )
})

test('the example cut anywhere is answered', () => {
  fc.assert(
    fc.property(fc.nat(example.length), end => answersFor(example.slice(0, end))),
    { numRuns: 60 },
  )
})

test('random bytes are answered', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 400 }), bytes => answersFor(new TextDecoder().decode(bytes))),
    { numRuns: 300 },
  )
})

const value: fc.Arbitrary<unknown> = fc.letrec(tie => ({
  any: fc.oneof(
    { maxDepth: 4 },
    fc.constantFrom('W01', 'coin', 'opened', 'both', 'mains', 'cold-join', 0, 1, -1, 0.5, true, null, 'a/+', ''),
    fc.array(tie('any'), { maxLength: 4 }),
    fc.dictionary(
      fc.constantFrom(
        'house',
        'openings',
        'senders',
        'mark',
        'name',
        'sender',
        'words',
        'opened',
        'rest',
        'load',
        'at',
        'side',
        'wifi',
        'json',
        'was',
        'broker',
        'mqtt',
        'sides',
        'coin',
        'reports',
        'cell',
        'burst',
        'topic',
        'client',
        'tally',
        'prices',
      ),
      tie('any'),
      { maxKeys: 6 },
    ),
  ),
})).any

test('known keys with values of any shape are answered', () => {
  fc.assert(
    fc.property(
      fc.dictionary(
        fc.constantFrom(
          'house',
          'timezone',
          'broker',
          'tally',
          'sides',
          'floors',
          'senders',
          'openings',
          'prices',
          'roof',
        ),
        value,
      ),
      root => answersFor(JSON.stringify(root)),
    ),
    { numRuns: 300 },
  )
})

test('what an opening derives depends on its own mark alone', () => {
  const mark = fc.stringMatching(/^[A-Z0-9][A-Za-z0-9]{0,7}$/)
  const marks = fc.uniqueArray(mark, { minLength: 1, maxLength: 8, selector: text => text.toLowerCase() })
  fc.assert(
    fc.property(marks, fc.array(fc.string({ maxLength: 8 }), { minLength: 8, maxLength: 8 }), (all, names) => {
      const lines = all.map((m, i) => `  - { mark: '${m}', name: ${JSON.stringify(`x${names[i]}`)}, sender: coin }`)
      for (const opening of sound(written({ openings: lines.join('\n') })).openings) {
        const alone = sound(written({ openings: `  - { mark: '${opening.mark}', name: Alone, sender: coin }` }))
          .openings[0]!
        expect([opening.topic, opening.client, opening.revision]).toEqual([alone.topic, alone.client, alone.revision])
      }
    }),
    { numRuns: 30 },
  )
})
