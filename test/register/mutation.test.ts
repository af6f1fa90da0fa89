import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import { formatProblem, withoutMark } from '../../src/text/problems.ts'
import { sound, written } from './written.ts'

const example = readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8')

/** What holds for any text whatever. */
function answersFor(text: string): void {
  const { register, problems } = parseRegister(text)
  const lines = withoutMark(text).split('\n')
  expect(register === undefined).toBe(problems.some(problem => problem.severity === 'error'))
  // Collected first and expected once: a fault of each rule would be named here.
  const faults: string[] = []
  const must = (holds: boolean, rule: string): void => void (holds || faults.push(rule))
  let last = 0
  for (const problem of problems) {
    const { line, column, length, path, code, message } = problem
    const width = lines[line - 1]?.length ?? -1
    must(width >= 0, 'the line exists')
    must(column >= 1 && column <= width + 1, 'the column lies in the line')
    must(length >= 1 && column - 1 + length <= Math.max(width, column), 'the mark ends in the line')
    must(/^(?:\/(?:[^~/]|~[01])*)*$/.test(path), 'the path is a JSON Pointer')
    must(/^[a-z][a-z0-9-]*$/.test(code), 'the code is kebab case')
    must(!/[\p{Cc}\p{Cs}]/u.test(message), 'the sentence cannot steer a terminal')
    const shown = formatProblem(problem, text, 'r.yaml')
    must(shown.split('\n').length <= 3, 'three lines at most')
    must(!/[\p{Cc}\p{Cs}]/u.test(shown.replaceAll(/[\n\t]/g, '')), 'what is shown cannot steer a terminal')
    if (code !== 'more') {
      must(line * 1e7 + column >= last, 'problems stand in line order')
      last = line * 1e7 + column
    }
  }
  expect(faults).toEqual([])
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

test('a name of the register that is offered in place of another cannot steer a terminal', () => {
  answersFor(example.replace('sides: [south,', 'sides: ["so\\u0009uth",'))
  answersFor(example.replace('sides: [south,', 'sides: ["so\\u001Buth",'))
  answersFor(example.replace(/^ {2}coin:/m, '  "co\\u0007in":'))
})
