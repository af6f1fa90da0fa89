import { load as loadOther } from 'js-yaml'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import type { CollectionKind } from '../../../src/emit/hub/entry-place.ts'
import { readHubFile } from '../../../src/emit/hub/hub-file.ts'
import { markersOf } from '../../../src/emit/hub/markers.ts'
import { type HubEntry, splice } from '../../../src/emit/hub/splice.ts'

const TALLY = 'ropewalk/tally'
const { begin: BEGIN, end: END } = markersOf(TALLY)
const entry = (mark: string, key?: string): HubEntry => ({
  mark,
  ...(key !== undefined && { key }),
  value: new Map([
    ['caption', `no ${mark}`],
    ['hears', `ropewalk/${mark.toLowerCase()}`],
  ]),
})
const two = [entry('W02'), entry('W03')]
const keyed = [entry('W02', 'W02'), entry('W03', 'no')]

function put(text: string, entries = two, at = '/ears', as: CollectionKind = 'list') {
  const { hub, problems } = readHubFile(text, TALLY)
  return hub ? splice(hub, at, { as: as, entries: entries, tally: TALLY, recipe: [] }) : { problems }
}
/** The file after the splice; fails the test when it was refused. */
function done(text: string, entries = two, at = '/ears', as: CollectionKind = 'list'): string {
  const { text: now, problems } = put(text, entries, at, as)
  expect(problems).toEqual([])
  return now!
}
const codes = (text: string, at = '/ears', as: CollectionKind = 'list') => {
  const { problems, ...rest } = put(text, as === 'map' ? keyed : two, at, as)
  expect('text' in rest && rest.text !== undefined).toBe(false)
  for (const problem of problems) expect(problem.message).toMatch(/^[A-Z*'].{20,}/)
  return problems.map(problem => `${problem.line} ${problem.code}`)
}
/** The bytes outside the block. */
function outside(text: string): string {
  const from = text.lastIndexOf('\n', text.lastIndexOf(BEGIN)) + 1
  const after = text.indexOf('\n', text.lastIndexOf(END))
  return text.slice(0, from) + (after < 0 ? '' : text.slice(after + 1))
}

const FILE = `# kept by hand
lamps: {hall: 3}
ears:
  - caption: One   # mine
    hears: ropewalk/w01

# the rest
tail: 'x'
`
const BLOCK = `  ${BEGIN}
  - caption: "no W02"
    hears: "ropewalk/w02"
  - caption: "no W03"
    hears: "ropewalk/w03"
  ${END}
`

describe('a dozen mutations of a hand-kept file', () => {
  test('the block stands after the last item, at the items’ indent', () => {
    expect(done(FILE)).toBe(FILE.replace('/w01\n', `/w01\n${BLOCK}`))
  })

  test('an empty last item without a line end gets one, and is itself again when the block goes', () => {
    const text = 'ears:\n- caption: One\n- '
    const now = done(text)
    expect(now.startsWith(`${text}\n${BEGIN}`)).toBe(true)
    expect(done(now)).toBe(now)
    expect(done(now, [])).toBe(text)
  })

  test.each([
    ['CRLF line ends', FILE.replaceAll('\n', '\r\n')],
    ['a byte-order mark', `\uFEFF${FILE}`],
    ['zero indent', FILE.replace(/^ {2}(?=[- ])/gm, '')],
    ['an odd indent', FILE.replace(/^ {2}(?=[- ])/gm, '       ')],
    ['a kept block scalar as last item', `ears:\n  - caption: |+\n      one\n\n\n\ntail: 1\n`],
    ['a kept block scalar at the end of the file', `ears:\n  - caption: |+\n      one\n\n\n`],
    ['a clipped block scalar as last item', `ears:\n  - caption: |\n      one\n\n\ntail: 1\n`],
    ['a folded plain scalar as last item', `ears:\n  - caption: one\n      two\n      three # why\ntail: 1\n`],
    ['a quoted scalar over several lines', `ears:\n  - "one\n\n    two"\ntail: 1\n`],
    ['marker text in a folded scalar', `ears:\n  - caption: >\n      ${BEGIN}\n      ${END}\ntail: 1\n`],
    ['marker text in a quoted scalar', `ears:\n  - caption: "a\n      ${BEGIN}\n      ${END}"\ntail: 1\n`],
    ['an anchor in the entry', `ears:\n  - &one\n    caption: x\n  - *one\nother: *one\n`],
    ['a nested list of lists', `ears:\n  - - a\n    - b\n  - - c\ntail: 1\n`],
    ['an item without a value last', `ears:\n  - a\n  -   # later\ntail: 1\n`],
    ['flow items', `ears:\n  - {a: 1}\n  - [1,\n     2]   # two\ntail: 1\n`],
    ['an empty value', `ears:   # none yet\nlamps: 1\n`],
    ['an empty value before a deeper comment', `ears:\n    # put them here\nlamps: 1\n`],
    ['another tally’s block', `ears:\n  # sashtally other: begin, do not edit\n  - a\n  # sashtally other: end\n`],
    ['an own tag on an empty value', `ears: !own\nz: 1\n`],
    ['own tags', `ears:\n  - !hush word\ntail: !hush x\n`],
    ['a document start and end', `%YAML 1.2\n---\nears:\n  - a\n...\n`],
    ['the first key of several', `ears:\n- a\nlamps:\n- b\n`],
    ['the last key, comments after it', `lamps:\n- b\nears:\n- a\n\n# end\n# of it\n`],
  ])('%s: every other byte is kept, and a second run changes nothing', (_name, text) => {
    const now = done(text)
    expect(outside(now)).toBe(text)
    expect(done(now)).toBe(now)
    const old = parse(text, { logLevel: 'silent' }).ears ?? []
    const added = two.map(({ value }) => Object.fromEntries(value as Map<string, string>))
    expect(parse(now, { logLevel: 'silent' }).ears).toEqual([...old, ...added])
  })

  test('line ends inside the block are the file’s own', () => {
    expect(done(FILE.replaceAll('\n', '\r\n'))).not.toMatch(/[^\r]\n/)
  })

  test.each([
    ['[]', 'list', `a: 1\nears: []  # none\nb: 2\n`, `a: 1\nears:   # none\n${BLOCK}b: 2\n`],
    ['[] with room inside', 'list', `ears: [  ]\n`, `ears: \n${BLOCK}`],
    ['[] on its own line', 'list', `ears:\n  []\nb: 2\n`, `ears:\n  \n${BLOCK}b: 2\n`],
    [
      '{} for a map',
      'map',
      `ears: {}\n`,
      `ears: \n  ${BEGIN}\n  "W02":\n    caption: "no W02"\n    hears: "ropewalk/w02"\n  "no":\n    caption: "no W03"\n    hears: "ropewalk/w03"\n  ${END}\n`,
    ],
  ] as const)('a lone %s gives way', (_name, as, text, expected) => {
    expect(done(text, as === 'map' ? keyed : two, '/ears', as)).toBe(expected)
  })

  test('a tag or an anchor of the person’s own stays on the collection', () => {
    for (const text of ['ears: !own []\n', 'ears: &e []\n']) {
      const now = done(text)
      expect(outside(now)).toBe(text.replace('[]', ''))
      expect(done(now)).toBe(now)
    }
  })

  test('a file without a line end at its end gets one before the block, and loses it with the block', () => {
    const now = done('ears:\n- a')
    expect(now.startsWith('ears:\n- a\n# sash')).toBe(true)
    expect(now.endsWith(END)).toBe(true)
    expect(done(now)).toBe(now)
    expect(done(now, [])).toBe('ears:\n- a')
  })

  test('a block scalar without a line end at the end of the file is refused or kept in value', () => {
    const text = 'ears:\n- |\n  a'
    const { text: now } = put(text)
    if (now !== undefined) expect(parse(now).ears[0]).toBe(parse(text).ears[0])
  })

  test('a file of comments, an empty file and an explicit empty document take a list at the root', () => {
    for (const text of ['', '# only this\n', '---\n', '# a\n---\n# b\n']) {
      const now = done(text, two, '')
      expect(outside(now)).toBe(text)
      expect(parse(now)).toHaveLength(2)
      expect(done(now, two, '')).toBe(now)
    }
  })

  test('the indent of new maps follows the file', () => {
    const text = 'house:\n     deep:\n          x: 1\n     ears:\n'
    expect(done(text, two, '/house/ears')).toContain(`\n          ${BEGIN}\n          - caption`)
  })

  test('a comment that speaks of the last entry stays with it', () => {
    const text = 'ears:\n  - a: 1\n    # b: 2\n  # - c\nz: 1\n'
    expect(done(text)).toBe(text.replace('  # - c', `${BLOCK}  # - c`))
  })
})

describe('a block that stands already', () => {
  test('is replaced where it stands, entries after it too', () => {
    const text = done(FILE).replace(`  ${END}\n`, `  ${END}\n  - caption: Later\n`)
    const now = done(text, [entry('W09')])
    expect(now).toBe(
      text.replace(/ {2}- caption: "no W02"[\s\S]*w03"\n/, '  - caption: "no W09"\n    hears: "ropewalk/w09"\n'),
    )
    expect(parse(now).ears.map((e: { caption: string }) => e.caption)).toEqual(['One', 'no W09', 'Later'])
  })

  test('goes without a trace when no entry is left', () => {
    expect(done(done(FILE), [])).toBe(FILE)
  })

  test('is an empty list when it was all there is', () => {
    const now = done(done('ears: []\nz: 1\n'), [])
    expect(parse(now)).toEqual({ ears: [], z: 1 })
    expect(done(now, [])).toBe(now)
    expect(parse(done(now)).ears).toHaveLength(2)
  })

  test('moves when the profile names another place', () => {
    const text = done('ears:\n  - a\neyes:\n  - b\n')
    const { text: now, moved } = put(text, two, '/eyes')
    expect(moved).toBe(true)
    expect(now).toBe(`ears:\n  - a\neyes:\n  - b\n${BLOCK}`)
  })

  test('a key copied out of the block by hand is no duplicate', () => {
    const text = `ears:\n  "W02": mine\n  ${BEGIN}\n  "W02": x\n  ${END}\n`
    expect(parse(done(text, [entry('W03', 'W03')], '/ears', 'map')).ears).toHaveProperty('W02', 'mine')
  })
})

describe('refuses with a sentence', () => {
  test.each([
    ['an alias at the place', 'x: &e [1]\nears: *e\n', ['2 alias']],
    ['an alias on the way', 'x: &e {b: []}\nears: *e\n', ['2 alias'], '/ears/b'],
    ['an anchored place that is repeated', 'ears: &e\n  - a\nother: *e\n', ['3 anchor']],
    ['an anchor above the place that is repeated', 'h: &e\n  ears:\n  - a\nother: *e\n', ['4 anchor'], '/h/ears'],
    ['several documents', 'ears: []\n---\nears: []\n', ['2 several-documents']],
    ['duplicate keys anywhere', 'ears: []\nz: {a: 1, a: 2}\nears: []\n', ['2 duplicate-key', '3 duplicate-key']],
    ['a tab', 'ears:\n\t- a\n', ['2 tab']],
    ['a non-empty collection in brackets', 'ears: [a]\n', ['1 flow']],
    ['a place inside brackets', 'h: {ears: []}\n', ['1 flow'], '/h/ears'],
    ['a comment inside the brackets', 'ears: [ # none\n ]\n', ['1 flow']],
    ['a value at the place', 'ears: ~\n', ['1 not-empty']],
    ['a map where a list belongs', 'ears:\n  a: 1\n', ['2 shape']],
    ['single quoted empty text', "ears: ''\n", ['1 not-empty']],
    ['a missing key', 'eras:\n  - a\n', ['1 no-place']],
    ['a begin marker alone', `ears:\n  ${BEGIN}\n  - a\n`, ['2 markers']],
    ['an end marker alone', `ears:\n  - a\n  ${END}\n`, ['3 markers']],
    ['two blocks', `ears:\n${BLOCK}${BLOCK}`, ['2 markers', '7 markers', '8 markers', '13 markers']],
    ['markers upside down', `ears:\n  ${END}\n  - a\n  ${BEGIN}\n`, ['2 markers', '4 markers']],
    ['what is no YAML', 'ears: [\nz: "\n', []],
    ['U+0000', 'ears:\n - a\0\n', ['2 not-text']],
  ] as const)('%s', (_name, text, expected, at: string = '/ears') => {
    const found = codes(text, at)
    if (expected.length) expect(found).toEqual(expected)
    else expect(found.length).toBeGreaterThan(0)
  })

  test('a key that stands already, text or number', () => {
    const two = [entry('W02', 'W02'), entry('7', '7')]
    const { text, problems } = put('ears:\n  7: mine\n  W02: mine\n', two, '/ears', 'map')
    expect([text, problems.map(({ line, code }) => `${line} ${code}`)]).toEqual([
      undefined,
      ['2 key-taken', '3 key-taken'],
    ])
  })

  test('a hundred thousand brackets and an alias bomb end in an answer', () => {
    expect(codes(`ears: ${'['.repeat(100_000)}`).length).toBeGreaterThan(0)
    const bomb = Array.from({ length: 30 }, (_, i) => `a${i}: &a${i} [${i ? `*a${i - 1}, *a${i - 1}` : 'x'}]`).join(
      '\n',
    )
    expect(outside(done(`${bomb}\nears:\n  - a\n`))).toBe(`${bomb}\nears:\n  - a\n`)
  })
})

test('a tally name cannot break out of its comment', () => {
  const tally = 'a\nears: [1]\u2028#'
  const { hub } = readHubFile('ears:\n', tally)
  const { text } = splice(hub!, '/ears', { as: 'list', entries: two, tally, recipe: [] })
  expect(parse(text!).ears).toHaveLength(2)
  expect((loadOther(text!) as { ears: unknown[] }).ears).toHaveLength(2)
  expect(splice(readHubFile(text!, tally).hub!, '/ears', { as: 'list', entries: two, tally, recipe: [] }).text).toBe(
    text,
  )
})
