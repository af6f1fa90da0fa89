import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import type { Wire } from '../../../src/emit/hub/field-names.ts'
import type { Filling } from '../../../src/emit/hub/filling.ts'
import { hub } from '../../../src/emit/hub/hub.ts'
import { readHubFile } from '../../../src/emit/hub/hub-file.ts'
import { keptByHand } from '../../../src/emit/hub/kept-by-hand.ts'
import { learn as learnFrom } from '../../../src/emit/hub/learn.ts'
import { parseProfile, profileText } from '../../../src/emit/hub/profile.ts'
import { PLAIN_WORDS } from '../../../src/protocol/plain.ts'
import { parseRegister } from '../../../src/register/parse.ts'
import { D01, house, W01, W02 } from '../ropewalk.ts'

const register = house([W01, W02, D01])
/** A filling as a profile writes it: a field alone, or parts. */
type Written = Filling[number] | Filling | null
function learn(
  text: string,
  fill: Record<string, Written> = {},
  { mark = 'W01', wire = 'contact' as Wire, from = register } = {},
) {
  const { hub: file, problems: broken } = readHubFile(text, from.tally)
  expect(broken).toEqual([])
  const opening = from.openings.find(o => o.mark === mark)!
  const asked = Object.entries(fill).map(
    ([pointer, held]) => [pointer, held === null || Array.isArray(held) ? held : [held]] as [string, Filling | null],
  )
  const learned = learnFrom(file!, from, opening, { wire, fill: new Map(asked) })
  return {
    ...learned,
    file: file!,
    codes: learned.problems.map(({ line, code }) => `${line} ${code}`),
    said: learned.problems.map(({ message }) => message).join('\n'),
  }
}
/** What was learned: a field, or a list of fields and texts. */
const fillOf = (learned: ReturnType<typeof learn>) => {
  expect(learned.said).toBe('')
  const flat = (filling: Filling | null) =>
    filling?.length === 1 ? filling[0] : filling?.map(part => (typeof part === 'string' ? part : part.text))
  return Object.fromEntries([...learned.profile!.fill].map(([pointer, filling]) => [pointer, flat(filling)]))
}

const LIST = `# mine
ears:
  - heading: Dye room, south
    under: Dye room
    hark: ropewalk/w01
    words: [opened, asleep]
    patience: 2
    form: sash
    face: south
`

test('the nearest list item above the topic is the entry, and its own values are the fillings', () => {
  const learned = learn(LIST)
  expect(fillOf(learned)).toEqual({
    '/heading': 'name',
    '/under': 'room',
    '/hark': 'topic',
    '/words/0': 'opened',
    '/words/1': 'rest',
    '/form': 'kind',
    '/face': 'side',
  })
  expect(learned.profile).toMatchObject({ place: '/ears', as: 'list' })
})

test('a map keyed by mark with nested blocks is found from a topic deep inside', () => {
  const learned = learn(`tower:\n  ropes:\n    W01:\n      pull:\n        cord: ropewalk/w01\n        swung: opened\n`)
  expect(learned.profile).toMatchObject({ place: '/tower/ropes', as: 'map', key: ['mark'] })
  expect(fillOf(learned)).toEqual({ '/pull/cord': 'topic', '/pull/swung': 'opened' })
})

test('without a list above it, the nearest map value is the entry, and its key has to be settled', () => {
  const text = `ropes:\n  front:\n    cord: ropewalk/w01\n`
  expect(learn(text).codes).toEqual(['2 key'])
  expect(learn(text, { key: 'mark' }).profile).toMatchObject({ place: '/ropes', as: 'map', key: ['mark'] })
})

test('a key may be parts, and has something of the opening’s own', () => {
  const text = (key: string) => `ropes:\n  ${key}:\n    cord: ropewalk/w01\n`
  expect(learn(text('rope-W01-a')).profile?.key).toEqual([{ text: 'rope-' }, 'mark', { text: '-a' }])
  expect(learn(text('"Dye room"')).codes).toEqual(['2 key'])
  expect(learn(text('front'), { key: [{ text: 'r' }, 'mark'] }).profile?.key).toEqual([{ text: 'r' }, 'mark'])
  expect(learn(text('front'), { key: null }).codes).toContain('3 fill')
})

test('the topic counts before the client id, and that before mark and name, as values or keys', () => {
  expect(learn(`a:\n  - who: rww01\nb:\n  - line: ropewalk/w01\n`).profile?.place).toBe('/b')
  expect(learn(`a:\n  - who: rww01\nb:\n  - tag: W01\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  - tag: W01\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  - heading: Dye room, south\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  W01: { x: opened }\n`).profile).toMatchObject({ place: '/a', key: ['mark'] })
  expect(learn(`a:\n  Dye room, south: { x: opened }\n`).profile).toMatchObject({ place: '/a', key: ['name'] })
})

test('a text that holds the topic finds the entry too, a mark or a name only as the whole', () => {
  expect(learn(`a:\n  - line: 'mqtt:ropewalk/w01'\nb:\n  - who: rww01\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  - line: ropewalk/w012\n`).codes).toEqual(['1 no-entry'])
  expect(learn(`a:\n  - line: see W01 there\n`).codes).toEqual(['1 no-entry'])
})

test('none or two are refused with their lines', () => {
  expect(learn(`ears:\n  - x: ropewalk/w02\n`).codes).toEqual(['1 no-entry'])
  const two = learn(`ears:\n  - x: ropewalk/w01\n  - y: 1\n  - x: ropewalk/w01\n`)
  expect(two.codes).toEqual(['2 two-entries', '4 two-entries'])
  expect(two.said).toMatch(/in lines 2, 4/)
})

describe('a list inside an entry', () => {
  const rules = `ears:\n  - heading: Dye room, south\n    rules:\n      - { hark: ropewalk/w01, is: opened }\n`
  test('belongs to the item around it that says whose it is, and is looked through', () => {
    const learned = learn(`${rules}      - { hark: ropewalk/w01, is: asleep }\n`)
    expect(learned.profile?.place).toBe('/ears')
    expect(fillOf(learned)).toEqual({
      '/heading': 'name',
      '/rules/0/hark': 'topic',
      '/rules/0/is': 'opened',
      '/rules/1/hark': 'topic',
      '/rules/1/is': 'rest',
    })
    expect(learn(rules).profile?.place).toBe('/ears')
  })
  test('stands in a group when the item around it is nobody’s', () => {
    const learned = learn(`rooms:\n  - heading: Dye room\n    ears:\n      - { hark: ropewalk/w01 }\n`)
    expect(learned.profile?.place).toBe('/rooms/0/ears')
  })
  test('is refused with both lines when the item around it may be its room', () => {
    const from = house([`{ mark: W01, name: Loft, room: Loft, sender: coin }`, W02])
    const text = `rooms:\n  - heading: Loft\n    ears:\n      - { hark: ropewalk/w01 }\n`
    expect(learn(text, {}, { from }).codes).toEqual(['2 two-entries', '4 two-entries'])
    const own = learn(text.replace('heading: Loft', 'heading: Loft\n    tag: W01'), {}, { from })
    expect(own.profile?.place).toBe('/rooms')
  })
})

test('the same value at several places of one entry is filled at each', () => {
  expect(Object.keys(fillOf(learn(`ears:\n  - a: ropewalk/w01\n    b: { c: ropewalk/w01 }\n`)))).toEqual(['/a', '/b/c'])
})

test('what stands between the markers is no example', () => {
  const text = `ears:\n  # sashtally ropewalk/tally: begin, do not edit\n  - x: ropewalk/w01\n  # sashtally ropewalk/tally: end\n`
  expect(learn(text).codes).toEqual(['1 no-entry'])
})

describe('ties', () => {
  const twin = house([`{ mark: W01, name: W01, room: W01, sender: coin }`, W02])
  test('are taken in order and shown', () => {
    const learned = learn(`ears:\n  - a: W01\n    b: ropewalk/w01\n`, {}, { from: twin })
    expect(fillOf(learned)['/a']).toBe('mark')
    expect(learned.remarks.join()).toMatch(
      /\/a holds "W01", which is the mark and the name and the room of W01: taken as mark.*--fill \/a=name/,
    )
  })
  test('are settled by --fill, to another field or to a constant', () => {
    const text = `ears:\n  - a: W01\n    b: ropewalk/w01\n`
    const settled = learn(text, { '/a': 'name' }, { from: twin })
    expect(fillOf(settled)['/a']).toBe('name')
    expect(settled.remarks.join()).not.toContain('taken as')
    expect(learn(text, { '/a': null }, { from: twin }).profile?.fill.get('/a')).toBeNull()
  })
  test('a both-edge example takes rest for its closing word', () => {
    const learned = learn(`ears:\n  - a: ropewalk/d01\n    b: shut\n    c: lost\n    d: ajar\n`, {}, { mark: 'D01' })
    expect(fillOf(learned)).toMatchObject({ '/b': 'rest', '/c': 'gone', '/d': 'opened' })
    expect(learned.remarks.join()).toMatch(/\/b holds "shut", which is the rest and the closed/)
  })
  test('are not told where it does not matter which field is taken', () => {
    const plain = `ears:\n  - a: ropewalk/tally/plain/W01\n    b: ${PLAIN_WORDS[1]}\n`
    expect(learn(plain, {}, { wire: 'tally' }).remarks.join()).not.toContain('taken as')
  })
})

describe('a text that holds facts', () => {
  const fillOfText = (text: string, mark = 'W01') =>
    fillOf(
      learn(
        `ears:\n  - hark: ${mark === 'W01' ? 'ropewalk/w01' : 'ropewalk/d01'}\n    t: ${JSON.stringify(text)}\n`,
        {},
        { mark },
      ),
    )['/t']
  test.each([
    ['a prefix and a suffix', 'mqtt:ropewalk/w01/more', ['mqtt:', 'topic', '/more']],
    ['several facts', 'Dye room, south (W01) of rww01', ['name', ' (', 'mark', ') of ', 'client']],
    ['the longest fact first', 'Dye room, south in Dye room', ['name', ' in ', 'room']],
    ['a fact twice', 'W01-W01', ['mark', '-', 'mark']],
    ['facts side by side', 'W01.Dye room.sash.south', ['mark', '.', 'room', '.', 'kind', '.', 'side']],
    [
      'a word beside the topic',
      'ropewalk/w01 said opened, later asleep',
      ['topic', ' said ', 'opened', ', later ', 'rest'],
    ],
    ['a word beside the mark', 'W01 opened', ['mark', ' ', 'opened']],
    ['a word in quotes', "it == 'opened'", ["it == '", 'opened', "'"]],
    ['a word in typographic quotes', 'said “asleep”?', ['said “', 'rest', '”?']],
    ['letters of other scripts around it are no run of it', '窓W01', undefined],
    ['astral letters neither', '𝒜W01', undefined],
  ])('%s', (_name, text, expected) => {
    if (expected) expect(fillOfText(text)).toEqual(expected)
    else expect(learn(`ears:\n  - hark: ropewalk/w01\n    t: ${JSON.stringify(text)}\n`).codes).toEqual(['3 contains'])
  })
  test('a word elsewhere stays as it is, where all contacts send it', () => {
    const text = `ears:\n  - hark: ropewalk/w01\n    t: when opened\n`
    expect(fillOf(learn(text, {}, { from: house([W01, W02]) }))).not.toHaveProperty('/t')
    expect(learn(text).codes).toEqual(['3 contains'])
    expect(learn(text).said).toMatch(/still holds the opened of W01/)
  })
  test('numbers in a text, and parts of runs, are none', () => {
    expect(fillOfText('W1 0 w-01')).toBeUndefined()
  })
})

describe('proof: what no entry may still hold', () => {
  const text = `ears:\n  - hark: ropewalk/w01\n    low: sash_w01\n    deep: { in: dyeW01x }\n    say: THE DYE ROOM, SOUTH\n    up: Ropewalk/w01/a\n`
  test('is refused until it is settled, every place at once', () => {
    const learned = learn(text)
    expect(learned.profile).toBeUndefined()
    expect(learned.codes).toEqual(['3 contains', '4 contains', '5 contains', '6 contains'])
    expect(learned.said).toMatch(/--fill "\/low=\[kind, \{ text: '_' \}, mark\]"/)
    expect(learned.said).toMatch(/\/deep\/in/)
  })
  test('is settled by a field, which keeps the text around it where it stands there, by parts, or by nothing', () => {
    const learned = learn(text, {
      '/low': [{ text: 'sash_' }, 'mark'],
      '/deep/in': 'mark',
      '/say': 'name',
      '/up': null,
    })
    expect(fillOf(learned)).toEqual({
      '/hark': 'topic',
      '/low': ['sash_', 'mark'],
      '/deep/in': ['dye', 'mark', 'x'],
      '/say': 'name',
      '/up': undefined,
    })
    expect(learned.remarks.join()).toMatch(/\/say is "THE DYE ROOM, SOUTH" for W01, but its name is/)
  })
  test('what another opening calls its own is not the model’s', () => {
    const from = house([W01, `{ mark: W011, name: 'Dye room, south, small', sender: coin, topic: ropewalk/w01/b }`])
    const learned = learn(
      `ears:\n  - hark: 'x:ropewalk/w01'\n    say: 'the Dye room, south'\n    id: 'n-W01'\n`,
      {},
      { from },
    )
    expect(Object.keys(fillOf(learned))).toEqual(['/hark', '/say', '/id'])
  })
  test('a topic that parts put together is found', () => {
    const from = house([W01, `{ mark: W02, name: W01, sender: coin, topic: x }`])
    const learned = learn(`ears:\n  - hark: ropewalk/w01\n    t: 'ropewalk/Dye room, south'\n`, {}, { from })
    expect(learned.codes).toEqual(['3 contains'])
  })
  test('inside a key it is refused', () => {
    expect(learn(`ears:\n  - W01: { hark: ropewalk/w01 }\n`).codes).toEqual(['2 key-in-entry'])
    expect(learn(`ears:\n  - on-w01: x\n    hark: ropewalk/w01\n`).codes).toEqual(['2 key-in-entry'])
  })
  test('a word as a key is refused where not every contact sends it, unless a value is that word or it is kept', () => {
    const keyed = `ears:\n  - hark: ropewalk/w01\n    map: { opened: red, asleep: grey }\n`
    expect(learn(keyed).codes).toEqual(['3 key-in-entry', '3 key-in-entry'])
    expect(learn(keyed, {}, { from: house([W01, W02]) }).codes).toEqual([])
    expect(learn(keyed, { '/map': null }).codes).toEqual([])
    expect(learn(`ears:\n  - hark: ropewalk/w01\n    opened: opened\n`).codes).toEqual([])
  })
})

describe('numbers', () => {
  const text = `ears:\n  - hark: ropewalk/w01\n    storey: 0\n    care: 1\n    more: [true, 7]\n`
  test('that are the floor or the quality of service are asked about, where others have another', () => {
    const learned = learn(text)
    expect(learned.codes).toEqual(['3 number'])
    expect(learned.said).toMatch(/--fill \/storey=floor, or --fill \/storey= to keep it/)
    expect(learn(text, {}, { from: house([W01, D01]) }).codes).toEqual([])
    expect(learn(text.replace('storey: 0', "storey: '0'")).codes).toEqual(['3 number'])
  })
  test('are filled as numbers, or stay', () => {
    const { profile } = learn(text, { '/storey': 'floor', '/care': 'qos' })
    const made = parse(hub(register, { profile: profile!, wire: 'contact' }).text!)
    expect(made[2]).toEqual({ hark: 'ropewalk/d01', storey: 0, care: 1, more: [true, 7] })
    expect(made[1]).not.toHaveProperty('storey')
    expect(learn(text, { '/storey': null }).profile?.fill.get('/storey')).toBeNull()
  })
  test('that are a word of the contact are asked about, where others send another', () => {
    const senders = `  bit: { reports: openings, cell: CR2032, words: { opened: '1', rest: '0' } }\n`
    const from = house([`{ mark: W01, name: a, sender: bit }`, W02], senders)
    const bits = `ears:\n  - hark: ropewalk/w01\n    stirs: 1\n    settles: '0'\n`
    expect(learn(bits, {}, { from }).codes).toEqual(['3 contains'])
    expect(fillOf(learn(bits, { '/stirs': 'opened' }, { from }))).toMatchObject({
      '/stirs': 'opened',
      '/settles': 'rest',
    })
  })
})

test('a --fill that leads nowhere is told', () => {
  const learned = learn(LIST, { '/nope': 'mark', '/words': 'mark', key: 'mark' })
  expect(learned.codes).toEqual(['3 fill', '3 fill', '3 fill'])
})

test('a list or a map that is kept as it is keeps all in it', () => {
  const { profile } = learn(LIST, { '/words': null })
  expect([profile?.fill.get('/words/0'), profile?.fill.get('/words/1')]).toEqual([null, null])
})

test('an entry of which nothing is its opening’s own is refused', () => {
  expect(learn(`ears:\n  - hark: ropewalk/w01\n    w: opened\n`, { '/hark': null }).codes).toEqual(['2 fill'])
})

describe('the tally’s plain words', () => {
  const [open, shut, unsure] = PLAIN_WORDS
  const plain = `ears:\n  - hark: ropewalk/tally/plain/W01\n    open: ${open}\n    shut: ${shut}\n    third: ${unsure}\n`
  test('are understood in the example', () => {
    expect(fillOf(learn(plain, {}, { wire: 'tally' }))).toEqual({
      '/hark': 'topic',
      '/open': 'opened',
      '/shut': 'rest',
      '/third': 'gone',
    })
  })
  test('take the place of the contact’s own wherever they stand, and the change is told', () => {
    const text = `${LIST}    rule: "x 'ropewalk/w01' == 'opened'"\n    also: 'mqtt:ropewalk/w01'\n`
    const learned = learn(text, {}, { wire: 'tally' })
    expect(learned.remarks.join()).toMatch(/Change W01 by hand/)
    expect(parse(hub(register, { profile: learned.profile!, wire: 'tally' }).text!)[2]).toMatchObject({
      hark: 'ropewalk/tally/plain/D01',
      words: [open, shut],
      rule: `x 'ropewalk/tally/plain/D01' == '${open}'`,
      also: 'mqtt:ropewalk/tally/plain/D01',
    })
  })
  test('leave no rule that could never fire', () => {
    const from = house([W01, W02])
    const text = `ears:\n  - hark: ropewalk/w01\n    t: when opened\n    map: { asleep: grey }\n`
    expect(learn(text, {}, { from }).codes).toEqual([])
    expect(learn(text, {}, { from, wire: 'tally' }).codes).toEqual(['3 contains', '4 key-in-entry'])
    const other = `ears:\n  - hark: ropewalk/w01\n    t: ajar\n`
    expect(learn(other, {}, { wire: 'tally' }).said).toMatch(
      /"ajar" is a word of D01 that the tally's topic never says/,
    )
    expect(learn(other, { '/t': null }, { wire: 'tally' }).codes).toEqual([])
  })
})

test('an unquoted {{x}}, a tag and an alias of itself in the example end in a sentence', () => {
  expect(learn(`ears:\n  - hark: ropewalk/w01\n    t: {{x}}\n`).codes).toEqual(['3 braces'])
  expect(learn(`ears:\n  - hark: ropewalk/w01\n    t: !own x\n`).codes).toEqual(['3 tag'])
  expect(learn(`ears:\n  - &me\n    hark: ropewalk/w01\n    t: *me\n`).codes.length).toBeGreaterThan(0)
})

test('an anchor in the example is no hindrance, and an alias in it is written out', () => {
  const learned = learn(`base: &b {x: 1}\nears:\n  - &one\n    hark: ropewalk/w01\n    more: *b\n`)
  const { text } = hub(register, { profile: learned.profile!, wire: 'contact' })
  expect(parse(text!)[1]).toEqual({ hark: 'ropewalk/w02', more: { x: 1 } })
})

test('a learned profile is read back from its file as it was', () => {
  const texts = [
    LIST,
    `t:\n  W01: { a: ropewalk/w01, 3: [1.5, null, true, 'no', -1.5], b: { c/d~e: opened }, s: 'x W01 "\\' y' }\n`.replace(
      "\\'",
      "''",
    ),
  ]
  for (const text of texts) {
    const { profile, said } = learn(text, text === LIST ? { '/face': null } : {})
    expect(said).toBe('')
    expect(parseProfile(profileText(profile!)).profile).toEqual(profile)
  }
})

describe('the example hubs', () => {
  const example = (name: string) => readFileSync(new URL(`../../../examples/${name}`, import.meta.url), 'utf8')
  const ropewalk = parseRegister(example('ropewalk.yaml')).register!
  test.each(['teasel', 'bellframe', 'frisket'] as const)(
    '%s: the profile beside it is what its one entry teaches',
    name => {
      const learned = learn(example(`${name}.hub.yaml`), {}, { from: ropewalk })
      expect(learned.said).toBe('')
      const written = parseProfile(example(`${name}.profile.yaml`)).profile!
      expect(learned.profile).toMatchObject({ place: written.place, as: written.as })
      for (const [pointer, filling] of learned.profile!.fill)
        expect([pointer, written.fill.get(pointer)]).toEqual([pointer, filling])
      expect(keptByHand(learned.file, learned.profile!, ropewalk).map(({ mark }) => mark)).toEqual(['W01'])
    },
  )
})

test('an opening is kept by hand by topic of either wire, by client id, by key or by parts, but not by a list of many', () => {
  const profile = parseProfile(
    `place: /ears\nas: list\nentry: {a: x, b: x}\nfill: {/a: [{ text: 'mqtt:' }, topic], /b: mark}\n`,
  ).profile!
  const { hub: file } = readHubFile(
    `ears:\n  - a: ropewalk/tally/plain/W01\n  - z: [ropewalk/w02, ropewalk/d01]\n  - q: { deep: ropewalkd01 }\n  - a: 'mqtt:ropewalk/w02'\nlamps:\n  - ropewalk/w02\n`,
    register.tally,
  )
  expect(keptByHand(file!, profile, register).map(({ mark, line }) => [mark, line])).toEqual([
    ['W01', 2],
    ['D01', 4],
    ['W02', 5],
  ])
})
