import fc from 'fast-check'
import { load as loadOther } from 'js-yaml'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { readHubFile } from '../../../src/emit/hub/hub-file.ts'
import { markersOf } from '../../../src/emit/hub/markers.ts'
import { type HubEntry, splice } from '../../../src/emit/hub/splice.ts'

const TALLY = 'ropewalk/tally'
const { begin: BEGIN, end: END } = markersOf(TALLY)

/** Texts of one hand-kept value, its lines after the first relative to the indent of its item. */
const VALUES = [
  'plain',
  "'single # quoted'",
  '"double \\" quoted"',
  '12',
  '~',
  'plain over\n  two lines',
  '"quoted over\n\n  lines"',
  `>-\n  folded\n  ${BEGIN}\n\n  text`,
  '|\n  # kept\n  text\n',
  `|+\n  kept\n  ${END}\n\n\n`,
  '&anchor x',
  '!own tagged',
  '{a: 1, b: [2, 3]}',
  '[1,\n  2] # over lines',
  '',
]
const COMMENTS = ['', '', ' # mine', '   # tab\there']
const LINES_BETWEEN = ['', '', '# a comment of the item', '', '      # deeper', '# sashtally other: begin, do not edit']

interface HubShape {
  readonly as: 'list' | 'map'
  readonly items: readonly {
    readonly value: string
    readonly comment: string
    readonly between: string
    readonly nested: boolean
  }[]
  readonly indent: number
  readonly before: string
  readonly after: string
  readonly eol: string
  readonly mark: boolean
  readonly empty: string
  /** The last line has no line end. */
  readonly cut: boolean
}

const shape: fc.Arbitrary<HubShape> = fc.record({
  as: fc.constantFrom('list', 'map'),
  items: fc.array(
    fc.record({
      value: fc.constantFrom(...VALUES),
      comment: fc.constantFrom(...COMMENTS),
      between: fc.constantFrom(...LINES_BETWEEN),
      nested: fc.boolean(),
    }),
    { maxLength: 4 },
  ),
  indent: fc.integer({ min: 0, max: 7 }),
  before: fc.constantFrom(
    '',
    '# head\n',
    '---\n',
    'first: [1, 2]\n\n',
    'first: |\n  text\n',
    '%YAML 1.2\n---\nfirst: "ears:"\n',
    'first:\n      deep: 1\n',
  ),
  after: fc.constantFrom('', '\n', '# tail\n', 'last: x\n', '\n\nlast:\n  - y\n', '...\n', 'last: >\n  folded\n'),
  eol: fc.constantFrom('\n', '\r\n'),
  mark: fc.boolean(),
  empty: fc.constantFrom('', ' []', ' [ ]  # none', '   # none', '\n  # none'),
  cut: fc.boolean(),
})

function textOf({ as, items, indent: asked, before, after, eol, mark, empty, cut }: HubShape): string {
  const indent = as === 'map' ? Math.max(1, asked) : asked
  const pad = ' '.repeat(indent)
  const lines = items.map(({ value, comment, between, nested }, index) => {
    const lead = as === 'list' ? '- ' : `k${index}: `
    const anchored = value.replace('&anchor', `&anchor${index}`)
    const deep = nested && as === 'list' ? `inner: ${anchored}` : anchored
    const [first = '', ...rest] = deep.split('\n')
    const noted = rest.length === 0 ? first + comment : first
    const inner = `${pad}${nested && as === 'list' ? '    ' : '  '}`
    const body = [`${pad}${lead}${noted}`, ...rest.map(line => (line === '' ? '' : inner + line))].join('\n')
    return `${body}\n${between === '' ? '' : `${pad}${between}\n`}`
  })
  const ears = items.length
    ? `ears:\n${lines.join('')}`
    : `ears:${as === 'map' ? empty.replace(/\[ *\]/, '{}') : empty}\n`
  const whole = (mark ? '\uFEFF' : '') + (before + ears + after).replaceAll('\n', eol)
  // A block scalar at the end of a file has another value without its last line end.
  const scalarLast =
    after === '' ? /[|>]/.test(items.at(-1)?.value ?? '') || items.length === 0 : !/^(?:# tail|last: x)\n$/.test(after)
  return cut && !scalarLast ? whole.slice(0, -eol.length) : whole
}

const entriesOf = (marks: readonly string[], as: HubShape['as']): HubEntry[] =>
  marks.map(mark => ({
    mark,
    ...(as === 'map' && { key: mark }),
    value: new Map<string, string | number | Map<string, string>>([
      ['caption', `${mark}: "no" # 'x'`],
      ['deep', new Map([['hears', `ropewalk/${mark}`]])],
      ['care', 1],
    ]),
  }))

const marks = fc.uniqueArray(fc.stringMatching(/^[A-Z0-9][A-Z0-9-]{0,3}$/), { maxLength: 5 })

function put(text: string, as: HubShape['as'], marksNow: readonly string[]): string {
  const { hub, problems } = readHubFile(text, TALLY)
  expect(problems).toEqual([])
  const done = splice(hub!, '/ears', { as: as, entries: entriesOf(marksNow, as), tally: TALLY, recipe: [] })
  expect(done.problems).toEqual([])
  return done.text!
}

function outside(text: string): string {
  const from = text.lastIndexOf('\n', text.lastIndexOf(BEGIN)) + 1
  const after = text.indexOf('\n', text.lastIndexOf(END))
  return text.slice(0, from) + (after < 0 ? '' : text.slice(after + 1))
}

const read = (text: string) => parse(text, { logLevel: 'silent' })
const held = (value: unknown): unknown[] => (value === null || value === undefined ? [] : Object.entries(value))

test('every other byte is kept, a second run changes nothing, and a removal leaves no trace', () => {
  fc.assert(
    fc.property(
      shape,
      fc.uniqueArray(fc.stringMatching(/^[A-Z0-9][A-Z0-9-]{0,3}$/), { minLength: 1, maxLength: 5 }),
      marks,
      (given, first, second) => {
        const text = textOf(given)
        const now = put(text, given.as, first)
        const kept = given.items.length
          ? text
          : text.replace(/\[ *\]|\{\}/, found => (text.slice(0, text.indexOf(found)).endsWith('ears: ') ? '' : found))
        const ended = now.endsWith(END) ? kept + given.eol : kept
        expect(outside(now)).toBe(ended)
        expect(put(now, given.as, first)).toBe(now)

        const later = put(now, given.as, second)
        if (second.length || given.items.length === 0) expect(outside(later)).toBe(ended)
        else expect(later).toBe(text)
        expect(put(later, given.as, first)).toBe(now)
        if (given.items.length) expect(put(now, given.as, [])).toBe(text)
      },
    ),
    { numRuns: 300 },
  )
})

test('the file reads as before, plus the entries', () => {
  fc.assert(
    fc.property(shape, marks, (given, names) => {
      const text = textOf(given)
      const now = put(text, given.as, names)
      const was = read(text)
      const is = read(now)
      expect({ ...is, ears: 0 }).toEqual({ ...was, ears: 0 })
      expect(held(is.ears)).toHaveLength(held(was.ears).length + names.length)
      const values: unknown[] = Object.values(is.ears ?? {})
      for (const value of Object.values(was.ears ?? {})) expect(values).toContainEqual(value)
      for (const name of names)
        expect(values).toContainEqual({ caption: `${name}: "no" # 'x'`, deep: { hears: `ropewalk/${name}` }, care: 1 })
    }),
    { numRuns: 200 },
  )
})

test('another library reads the spliced file the same', () => {
  const plain = shape.filter(
    ({ items, before }) => items.every(({ value }) => !value.startsWith('!')) && !before.startsWith('%'),
  )
  fc.assert(
    fc.property(plain, marks, (given, names) => {
      const now = put(textOf(given), given.as, names)
      expect(loadOther(now.replace(/^\uFEFF/, ''))).toEqual(read(now))
    }),
    { numRuns: 200 },
  )
})
