import { readFileSync } from 'node:fs'
import { load as loadOther } from 'js-yaml'
import { describe, expect, test } from 'vitest'
import { isScalar, parse, parseDocument, visit } from 'yaml'
import type { Wire } from '../../../src/emit/hub/field-names.ts'
import { hub } from '../../../src/emit/hub/hub.ts'
import { type Profile, parseProfile, placesOf } from '../../../src/emit/hub/profile.ts'
import { PLAIN_WORDS } from '../../../src/protocol/plain.ts'
import { parseRegister } from '../../../src/register/parse.ts'
import type { Register } from '../../../src/register/types.ts'
import { D01, house, W01, W02 } from '../ropewalk.ts'

const example = (name: string) => readFileSync(new URL(`../../../examples/${name}`, import.meta.url), 'utf8')
const ropewalk = parseRegister(example('ropewalk.yaml')).register!

function profileOf(text: string): Profile {
  const { profile, problems } = parseProfile(text)
  expect(problems).toEqual([])
  return profile!
}
const LIST = `place: /ears
as: list
entry: { heading: x, under: x, line: x, stirs: x, settles: x, storey: 0, face: x, kindly: x, gone: x, care: 0, tag: x, who: x }
fill: { /heading: name, /under: room, /line: topic, /stirs: opened, /settles: rest, /storey: floor, /face: side, /kindly: kind, /gone: gone, /care: qos, /tag: [{ text: 'no ' }, mark, { text: '!' }], /who: client }
`
const made = (register: Register, text = LIST, wire: Wire = 'contact', leaveOut?: ReadonlySet<string>) => {
  const {
    text: yaml,
    problems,
    remarks,
  } = hub(register, { profile: profileOf(text), wire, ...(leaveOut && { leaveOut }) })
  return { yaml, items: yaml === undefined ? undefined : parse(yaml), problems, remarks }
}

test('every field comes from the register, numbers as numbers', () => {
  expect(made(house([W01, D01])).items).toEqual([
    {
      heading: 'Dye room, south',
      under: 'Dye room',
      line: 'ropewalk/w01',
      stirs: 'opened',
      settles: 'asleep',
      storey: 0,
      face: 'south',
      kindly: 'sash',
      care: 1,
      tag: 'no W01!',
      who: 'rww01',
    },
    {
      heading: 'Street door',
      under: 'Entrance',
      line: 'ropewalk/d01',
      stirs: 'ajar',
      settles: 'shut',
      storey: 0,
      face: 'south',
      kindly: 'door',
      gone: 'lost',
      care: 1,
      tag: 'no D01!',
      who: 'ropewalkd01',
    },
  ])
})

test('a field that an opening lacks leaves its key out, and the list says where', () => {
  const { items, remarks } = made(house([W01, W02, D01]))
  expect(items[1]).not.toHaveProperty('under')
  expect(remarks).toContain('No room, so /under is left out: W02')
  expect(remarks).toContain('No gone, so /gone is left out: W01, W02')
})

test('with a keeper the hub is wired to the plain topic and its words, for both kinds of contact', () => {
  const { items, remarks } = made(house([W01, D01, `{ mark: W09, name: z, sender: ladder }`]), LIST, 'tally')
  for (const [index, mark] of ['W01', 'D01', 'W09'].entries()) {
    expect(items[index]).toMatchObject({
      line: `ropewalk/tally/plain/${mark}`,
      stirs: PLAIN_WORDS[0],
      settles: PLAIN_WORDS[1],
      gone: PLAIN_WORDS[2],
      care: 1,
    })
  }
  expect(remarks.join()).not.toContain('JSON')
})

test('a hub on the contacts’ own topics is warned of JSON payloads', () => {
  expect(made(house([W01, `{ mark: W09, name: z, sender: ladder }`])).remarks.join('\n')).toMatch(/send JSON.*W09/)
})

test('openings kept by hand are left out', () => {
  expect(made(house([W01, W02]), LIST, 'contact', new Set(['W01'])).items).toHaveLength(1)
})

describe('a constant', () => {
  const text = (a: string, more = '') => `place: /ears\nas: list\nentry: { a: ${a}, b: x }\nfill: { /b: name${more} }\n`
  const codes = (a: string, wire: Wire = 'contact', more = '') =>
    made(house([W01, W02, D01]), text(a, more), wire).problems.map(({ code }) => code)
  test('that holds one opening’s own topic or is its client id is refused, unless it is meant', () => {
    for (const a of ['ropewalk/w01', 'mqtt:ropewalk/w02', 'x ropewalk/tally/plain/W01', 'rww01']) {
      expect(codes(a)).toEqual(['shared'])
      expect(codes(a, 'tally')).toEqual(['shared'])
      expect(codes(a, 'contact', ', /a: ')).toEqual([])
    }
    expect(made(house([W01]), text('rww01')).problems[0]?.message).toMatch(/\/a holds "rww01".* client of W01/)
    expect(codes('ropewalk/w012')).toEqual([])
  })
  test('that is a word which this topic never says is refused', () => {
    for (const a of ['ajar', '"it is \'ajar\'"', 'asleep'])
      expect([codes(a), codes(a, 'tally')]).toEqual([[], ['never-said']])
    expect([codes(PLAIN_WORDS[0]), codes(PLAIN_WORDS[0], 'tally')]).toEqual([['never-said'], []])
    expect([codes('closed'), codes('closed', 'tally'), codes('stands ajar', 'tally')]).toEqual([[], [], []])
    expect(codes('ajar', 'tally', ', /a: ')).toEqual([])
  })
})

test('parts are put together, and a field that lacks takes the whole text away', () => {
  const text = `place: /ears\nas: list\nentry: { a: x, b: x, c: 0 }\nfill: { /a: [name, { text: ' at ' }, topic], /b: [{ text: 'in ' }, room], /c: [floor, { text: '. floor' }] }\n`
  expect(made(house([W01, W02]), text).items).toEqual([
    { a: 'Dye room, south at ropewalk/w01', b: 'in Dye room', c: '0. floor' },
    { a: 'Loft at ropewalk/w02' },
  ])
})

test('one label for two openings is told, kept by hand or not, and one topic is refused', () => {
  const twins = house([`{ mark: A1, name: Loft, sender: coin }`, `{ mark: A2, name: Loft, sender: coin }`])
  const text = (fill: string) => `place: /ears\nas: list\nentry: { a: x, b: x }\nfill: { /a: name, /b: ${fill} }\n`
  expect(made(twins, text('topic')).remarks.join()).toMatch(/A1, A2 have the same text at \/a, "Loft"/)
  expect(made(twins, text('topic'), 'contact', new Set(['A1'])).remarks.join()).toMatch(/A1, A2/)
  const twice = house([
    `{ mark: B, name: x, sender: coin, topic: a/b }`,
    `{ mark: BB, name: y, sender: coin, topic: a/b/B }`,
    `{ mark: bc, name: z, sender: coin, topic: a }`,
    `{ mark: c-B, name: z, sender: coin, topic: ax }`,
  ])
  expect(made(twice, text('[topic, { text: / }, mark]')).problems).toEqual([])
  const same = house([
    `{ mark: c, name: x, sender: coin, topic: a/b }`,
    `{ mark: bc, name: y, sender: coin, topic: a/ }`,
  ])
  expect(made(same, text('[topic, mark]')).problems.map(({ code }) => code)).toEqual(['topic-twice'])
})

describe('a map', () => {
  const text = (key: string) =>
    `place: /ears\nas: map\n${key}entry: { deep: [ { a: x }, { b: 1 } ] }\nfill: { /deep/0/a: topic }\n`
  test('is keyed by mark unless told otherwise', () => {
    expect(made(house([W01, W02]), text('')).items).toEqual({
      W01: { deep: [{ a: 'ropewalk/w01' }, { b: 1 }] },
      W02: { deep: [{ a: 'ropewalk/w02' }, { b: 1 }] },
    })
    expect(Object.keys(made(house([W01]), text(`key: [client, { text: '_' }]\n`)).items)).toEqual(['rww01_'])
  })
  test('refuses keys that two openings share and keys that are missing, all at once', () => {
    const { yaml, problems } = made(
      house([W01, W02, D01, `{ mark: W09, name: z, room: Dye room, sender: coin }`]),
      text('key: room\n'),
    )
    expect(yaml).toBeUndefined()
    expect(problems.map(({ code }) => code)).toEqual(['no-key', 'key-twice'])
  })
  test('keeps marks that look like numbers as text', () => {
    const { yaml } = made(
      house([
        `{ mark: '007', name: a, sender: coin }`,
        `{ mark: '1e3', name: b, sender: coin }`,
        `{ mark: 'no', name: c, sender: coin }`,
      ]),
      text(''),
    )
    for (const value of [parse(yaml!), parse(yaml!, { version: '1.1' }), loadOther(yaml!) as object]) {
      expect(Object.keys(value).sort()).toEqual(['007', '1e3', 'no'])
    }
  })
})

test('generated strings are in double quotes, and YAML 1.1 and another library read the same', () => {
  const names = [
    'no',
    'ON',
    '1',
    '1_000',
    '12:30',
    '2026-01-01',
    '~',
    '',
    '# x',
    'a: b',
    "it's",
    '"q"',
    '\\',
    'ünï 窓',
    '😀',
    '\u0085\u2028\u2029\uFEFF\u007F',
    '{{x}}',
    '!tag',
    '&a',
    '*a',
    '- a',
    '%',
    '@',
    '`',
    'a\tb',
  ]
  const openings = names
    .filter(name => name !== '')
    .map((name, i) => JSON.stringify({ mark: `M${i}`, name, sender: 'coin' }).replaceAll('\\u', '\\u'))
  const { yaml, items } = made(house(openings))
  const found: (string | undefined)[] = []
  visit(parseDocument(yaml!), {
    Scalar(key, node) {
      if (key !== 'key' && typeof node.value === 'string') found.push(node.type)
    },
  })
  expect(new Set(found)).toEqual(new Set(['QUOTE_DOUBLE']))
  expect(items.map((item: { heading: string }) => item.heading)).toEqual(names.filter(name => name !== ''))
  expect(parse(yaml!, { version: '1.1' })).toEqual(items)
  expect(loadOther(yaml!)).toEqual(items)
})

test('constants keep their kind: numbers, booleans and null as they are, text in quotes, keys that look like a boolean too', () => {
  const text = `place: ''\nas: list\nentry: { a: 1.50, z: -0.0, b: true, c: ~, d: 1e30, e: 0x1F, f: -.inf, on: x, 3: y, g: [], h: {}, n: x }\nfill: { /n: name }\n`
  const { yaml, items } = made(house([W01]), text)
  expect(items[0]).toMatchObject({
    a: 1.5,
    b: true,
    c: null,
    d: 1e30,
    e: 31,
    f: -Infinity,
    on: 'x',
    '3': 'y',
    g: [],
    h: {},
  })
  expect(yaml).toContain('"on": "x"')
  expect(yaml).toContain('\n  3: "y"')
  expect(loadOther(yaml!)).toEqual(items)
  expect(parse(yaml!, { version: '1.1' })).toEqual(items)
})

describe('the examples', () => {
  test.each(['teasel', 'bellframe', 'frisket'])('%s fills name, topic, opened and rest for 26 openings', name => {
    const profile = profileOf(example(`${name}.profile.yaml`))
    expect([...placesOf(profile).keys()]).toEqual(expect.arrayContaining(['name', 'topic', 'opened', 'rest']))
    const { text, problems } = hub(ropewalk, { profile, wire: 'contact' })
    expect(problems).toEqual([])
    const held: unknown[] = Object.values(parse(text!))
    expect(held).toHaveLength(26)
    for (const [index, { topic, name: called }] of ropewalk.openings.entries()) {
      for (const fact of [topic, called])
        expect(JSON.stringify(held[index])).toContain(JSON.stringify(fact).slice(1, -1))
    }
  })
  test('no key of one stands in the other, but for none', () => {
    const keys = (text: string) => {
      const found = new Set<string>()
      visit(parseDocument(text), { Pair: (_k, { key }) => void (isScalar(key) && found.add(String(key.value))) })
      return found
    }
    const all = ['teasel', 'bellframe', 'frisket'].flatMap(name => [...keys(example(`${name}.hub.yaml`))])
    expect(new Set(all).size).toBe(all.length)
  })
})

describe('a profile file', () => {
  const problemsOf = (text: string) => parseProfile(text).problems.map(({ line, code }) => `${line} ${code}`)
  test('says everything that is wrong with it at once, with its place', () => {
    expect(
      problemsOf(`place: ears
as: lists
kee: 1
entry: { a: 1, b: [2] }
fill:
  /a: topick
  /b: name
  /c: mark
  d: name
  /e: [name, { txt: x }, [1]]
  /b/0: { field: name }
  /a~1: [{ text: x }]
`),
    ).toEqual([
      '1 pointer',
      '2 shape',
      '3 unknown-key',
      '6 field',
      '7 pointer',
      '8 pointer',
      '9 pointer',
      '10 part',
      '10 part',
      '10 pointer',
      '11 part',
      '12 part',
      '12 pointer',
    ])
    expect(
      parseProfile('fil: {}')
        .problems.map(({ message }) => message)
        .join(),
    ).toContain('did you mean fill?')
    expect(parseProfile(`place: ''\nas: list\nentry: {a: x}\nfill: {/a: topick}`).problems[0]?.message).toContain(
      'did you mean topic?',
    )
  })
  test('an unquoted {{x}} is a map to YAML and is refused with a sentence', () => {
    const { problems } = parseProfile(`place: ''\nas: list\nentry:\n  a: {{x}}\n  b: x\nfill: { /b: name }\n`)
    expect(problems.map(({ line, column, code }) => [line, column, code])).toEqual([[4, 7, 'braces']])
    expect(problems[0]?.message).toMatch(/in quotes/)
    expect(problemsOf(`place: ''\nas: list\nentry: { a: "{{x}}", b: x }\nfill: { /b: name }\n`)).toEqual([])
  })
  test.each([
    ['a key with a list', `place: ''\nas: list\nkey: mark\nentry: {a: x}\nfill: {/a: name}\n`, ['3 key']],
    ['nothing that tells openings apart', `place: ''\nas: list\nentry: {a: x}\nfill: {/a: opened}\n`, ['4 fill']],
    ['a list', `- a\n`, ['1 profile']],
    ['an empty file', ``, ['1 profile']],
    ['several documents', `a: 1\n---\nb: 2\n`, ['2 several-documents']],
    ['a tab', `place: ''\nas:\n\t- x\n`, ['3 tab']],
    ['a tag in the entry', `place: ''\nas: list\nentry: {a: !own x, b: x}\nfill: {/b: name}\n`, ['3 tag']],
    ['a key twice', `place: ''\nplace: ''\n`, ['2 duplicate-key']],
    [
      'a number with too many digits',
      `place: ''\nas: list\nentry: {a: 12345678901234567890, b: x}\nfill: {/b: name}\n`,
      ['3 number'],
    ],
  ])('%s is a problem', (_name, text, expected) => {
    expect(problemsOf(text)).toEqual(expected)
  })
  test('a key such as __proto__ is a key', () => {
    const profile = profileOf(
      `place: ''\nas: list\nentry: { __proto__: x, constructor: { a: 1 } }\nfill: { /__proto__: name }\n`,
    )
    expect(hub(house([W01]), { profile, wire: 'contact' }).text).toContain('"__proto__": "Dye room, south"')
  })
  test('aliases and merge keys of the entry are written out', () => {
    const profile = profileOf(
      `place: ''\nas: list\nentry: { base: &b { x: 1, y: 2 }, more: { <<: *b, y: 3 }, n: x }\nfill: { /n: name, /more/x: floor }\n`,
    )
    expect(parse(hub(house([W01]), { profile, wire: 'contact' }).text!)).toEqual([
      { base: { x: 1, y: 2 }, more: { y: 3, x: 0 }, n: 'Dye room, south' },
    ])
  })
  test('plain words that older readers take for yes and no are told', () => {
    expect(
      parseProfile(`place: ''\nas: list\nentry: { a: on, b: x, c: 08 }\nfill: { /b: name }\n`).remarks.join('\n'),
    ).toMatch(/\/a: on without quotes/)
  })
})
