import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import type { Field, Wire } from '../../src/emit/hub/fields.ts'
import { hub } from '../../src/emit/hub/hub.ts'
import { readHubFile } from '../../src/emit/hub/hub-file.ts'
import { like } from '../../src/emit/hub/like.ts'
import { parseProfile, profileText } from '../../src/emit/hub/profile.ts'
import { splice } from '../../src/emit/hub/splice.ts'
import { standing } from '../../src/emit/hub/standing.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { D01, house, W01, W02 } from './ropewalk.ts'

const register = house([W01, W02, D01])
function learn(
  text: string,
  fill: Record<string, Field | null> = {},
  { mark = 'W01', wire = 'contact' as Wire, from = register } = {},
) {
  const { hub: file, problems: broken } = readHubFile(text, from.tally)
  expect(broken).toEqual([])
  const opening = from.openings.find(o => o.mark === mark)!
  const learned = like(file!, from, opening, { wire, fill: new Map(Object.entries(fill)) })
  return {
    ...learned,
    file: file!,
    codes: learned.problems.map(({ line, code }) => `${line} ${code}`),
    said: learned.problems.map(({ message }) => message).join('\n'),
  }
}
const fillOf = (learned: ReturnType<typeof learn>) => {
  expect(learned.codes).toEqual([])
  return Object.fromEntries(learned.profile!.fill)
}

const LIST = `# mine
ears:
  - heading: Dye room, south
    under: Dye room
    hark: ropewalk/w01
    words: [opened, asleep]
    patience: 2
    storey: 0
`

test('the nearest list item above the topic is the entry, and its own values are the fillings', () => {
  const learned = learn(LIST)
  expect(fillOf(learned)).toEqual({
    '/heading': { field: 'name' },
    '/under': { field: 'room' },
    '/hark': { field: 'topic' },
    '/words/0': { field: 'opened' },
    '/words/1': { field: 'rest' },
  })
  expect(learned.profile).toMatchObject({ place: '/ears', as: 'list' })
})

test('a map keyed by mark with nested blocks is found from a topic deep inside', () => {
  const learned = learn(`tower:\n  ropes:\n    W01:\n      pull:\n        cord: ropewalk/w01\n        swung: opened\n`)
  expect(learned.profile).toMatchObject({ place: '/tower/ropes', as: 'map', key: { field: 'mark' } })
  expect(fillOf(learned)).toEqual({ '/pull/cord': { field: 'topic' }, '/pull/swung': { field: 'opened' } })
})

test('without a list above it, the nearest map value is the entry, and its key has to be settled', () => {
  const text = `ropes:\n  front:\n    cord: ropewalk/w01\n`
  expect(learn(text).codes).toEqual(['2 key'])
  expect(learn(text, { key: 'mark' }).profile).toMatchObject({ place: '/ropes', as: 'map', key: { field: 'mark' } })
})

test('the topic counts before the client id, and that before mark and name, as values or keys', () => {
  expect(learn(`a:\n  - who: rww01\nb:\n  - line: ropewalk/w01\n`).profile?.place).toBe('/b')
  expect(learn(`a:\n  - who: rww01\nb:\n  - tag: W01\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  - tag: W01\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  - heading: Dye room, south\n`).profile?.place).toBe('/a')
  expect(learn(`a:\n  W01: { x: opened }\n`).profile).toMatchObject({ place: '/a', key: { field: 'mark' } })
  expect(learn(`a:\n  Dye room, south: { x: opened }\n`).profile).toMatchObject({ place: '/a', key: { field: 'name' } })
})

test('none or two are refused with their lines', () => {
  expect(learn(`ears:\n  - x: ropewalk/w01/more\n`).codes).toEqual(['1 no-entry'])
  const two = learn(`ears:\n  - x: ropewalk/w01\n  - y: 1\n  - x: ropewalk/w01\n`)
  expect(two.codes).toEqual(['2 two-entries', '4 two-entries'])
  expect(two.said).toMatch(/in lines 2, 4/)
  expect(learn(`rooms:\n  - heading: Dye room, south\n    ears:\n      - x: ropewalk/w01\n`).codes).toEqual([
    '2 two-entries',
    '4 two-entries',
  ])
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
    expect(fillOf(learned)['/a']).toEqual({ field: 'mark' })
    expect(learned.remarks.join()).toMatch(
      /\/a is "W01", which is the mark and the name and the room of W01: taken as mark.*--fill \/a=name/,
    )
  })
  test('are settled by --fill, to another field or to a constant', () => {
    const text = `ears:\n  - a: W01\n    b: ropewalk/w01\n`
    const settled = learn(text, { '/a': 'name' }, { from: twin })
    expect(fillOf(settled)['/a']).toEqual({ field: 'name' })
    expect(settled.remarks.join()).not.toContain('taken as')
    expect(fillOf(learn(text, { '/a': null }, { from: twin }))).not.toHaveProperty('/a')
  })
  test('a both-edge example takes rest for its closing word', () => {
    const learned = learn(`ears:\n  - a: ropewalk/d01\n    b: shut\n    c: lost\n    d: ajar\n`, {}, { mark: 'D01' })
    expect(fillOf(learned)).toMatchObject({
      '/b': { field: 'rest' },
      '/c': { field: 'gone' },
      '/d': { field: 'opened' },
    })
    expect(learned.remarks.join()).toMatch(/\/b is "shut", which is the rest and the closed/)
  })
})

describe('a value that contains the opening’s own but is more than that', () => {
  const text = `ears:\n  - hark: ropewalk/w01\n    id: sash-W01\n    low: sash_w01\n    say: 'The Dye room, south!'\n    sub: ropewalk/w01/more\n    by: x-rww01\n`
  test('is refused until it is settled, every one at once', () => {
    const learned = learn(text)
    expect(learned.profile).toBeUndefined()
    expect(learned.codes).toEqual(['3 contains', '4 contains', '5 contains', '6 contains', '7 contains'])
    expect(learned.said).toMatch(/--fill \/id=mark, which keeps "sash-" before it/)
    expect(learned.said).toMatch(/\/sub is "ropewalk\/w01\/more", which contains the topic of W01/)
  })
  test('keeps what stands around it when it is filled, or stays as it is', () => {
    expect(
      fillOf(learn(text, { '/id': 'mark', '/low': 'mark', '/say': 'name', '/sub': 'topic', '/by': null })),
    ).toEqual({
      '/hark': { field: 'topic' },
      '/id': { field: 'mark', before: 'sash-' },
      '/low': { field: 'mark' },
      '/say': { field: 'name', before: 'The ', after: '!' },
      '/sub': { field: 'topic', after: '/more' },
    })
  })
  test('inside a key it is refused', () => {
    expect(learn(`ears:\n  - W01: { hark: ropewalk/w01 }\n`).codes).toEqual(['2 key-in-entry'])
    expect(learn(`ears:\n  - on-W01: x\n    hark: ropewalk/w01\n`).codes).toEqual(['2 key-in-entry'])
  })
})

test('numbers, kind, side, floor and qos stay as they are until asked for', () => {
  const text = `ears:\n  - hark: ropewalk/w01\n    kind: sash\n    face: south\n    storey: 0\n    care: 1\n`
  expect(Object.keys(fillOf(learn(text)))).toEqual(['/hark'])
  const learned = learn(text, { '/kind': 'kind', '/face': 'side', '/storey': 'floor', '/care': 'qos' })
  const { text: made } = hub(register, { profile: learned.profile!, wire: 'contact' })
  expect(parse(made!)[2]).toEqual({ hark: 'ropewalk/d01', kind: 'door', face: 'south', storey: 0, care: 1 })
})

test('a --fill that leads nowhere is told', () => {
  const learned = learn(LIST, { '/nope': 'mark', '/words': 'mark', key: 'mark' })
  expect(learned.codes).toEqual(['3 fill', '3 fill', '3 fill'])
})

test('the tally’s plain topic in the example is understood, and a change of wire is told', () => {
  const plain = `ears:\n  - hark: ropewalk/tally/plain/W01\n    open: may-be-open\n    shut: closed\n`
  expect(fillOf(learn(plain, {}, { wire: 'tally' }))).toEqual({
    '/hark': { field: 'topic' },
    '/open': { field: 'opened' },
    '/shut': { field: 'rest' },
  })
  const learned = learn(LIST, {}, { wire: 'tally' })
  expect(fillOf(learned)['/hark']).toEqual({ field: 'topic' })
  expect(learned.remarks.join()).toMatch(/Change W01 by hand/)
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
  for (const text of [LIST, `t:\n  W01: { a: ropewalk/w01, 3: [1.5, null, true, 'no'], b: { c/d~e: opened } }\n`]) {
    const { profile } = learn(text)
    expect(parseProfile(profileText(profile!)).profile).toEqual(profile)
  }
})

describe('the two example hubs', () => {
  const example = (name: string) => readFileSync(new URL(`../../examples/${name}`, import.meta.url), 'utf8')
  const ropewalk = parseRegister(example('ropewalk.yaml')).register!
  test.each([
    ['teasel', ['lookouts'], 26],
    ['bellframe', ['tower', 'ropes'], 26],
  ] as const)('%s: from the one entry the other 25 are made, and put where it stands', (name, path, all) => {
    const learned = learn(example(`${name}.hub.yaml`), {}, { from: ropewalk })
    expect(learned.codes).toEqual([])
    const written = parseProfile(example(`${name}.profile.yaml`)).profile!
    expect(learned.profile).toMatchObject({ place: written.place, as: written.as })
    for (const [pointer, filling] of learned.profile!.fill)
      expect([pointer, written.fill.get(pointer)]).toEqual([pointer, filling])
    const kept = standing(learned.file, learned.profile!, ropewalk)
    expect([...kept.keys()]).toEqual(['W01'])
    const lines = example(`${name}.hub.yaml`).split('\n')
    expect(lines[kept.get('W01')! - 1]).toMatch(name === 'teasel' ? /- heading/ : /W01:/)
    const { text } = splice(
      learned.file,
      learned.profile!.place,
      learned.profile!.as,
      [...ropewalk.openings]
        .filter(({ mark }) => !kept.has(mark))
        .map(({ mark }) => ({
          mark,
          ...(learned.profile!.as === 'map' && { key: mark }),
          value: new Map([['x', mark]]),
        })),
      ropewalk.tally,
    )
    expect(Object.keys(path.reduce((value, key) => value[key], parse(text!)))).toHaveLength(all)
  })
})

test('an opening is kept by hand by topic of either wire, by client id or by key, but not by a list of many', () => {
  const profile = parseProfile(`place: /ears\nas: list\nentry: {a: x, b: x}\nfill: {/a: topic, /b: mark}\n`).profile!
  const { hub: file } = readHubFile(
    `ears:\n  - a: ropewalk/tally/plain/W01\n  - z: [ropewalk/w02, ropewalk/d01]\n  - q: { deep: ropewalkd01 }\nlamps:\n  - ropewalk/w02\n`,
    register.tally,
  )
  expect([...standing(file!, profile, register)]).toEqual([
    ['W01', 2],
    ['D01', 4],
  ])
})
