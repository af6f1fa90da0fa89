import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { applyPatch } from 'diff'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { parse } from 'yaml'
import { cli } from '../../src/cli/cli.ts'
import { type TestWorld, testWorld } from './test-world.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-emit-'))
  for (const name of [
    'ropewalk.yaml',
    'teasel.hub.yaml',
    'teasel.profile.yaml',
    'bellframe.hub.yaml',
    'bellframe.profile.yaml',
    'frisket.hub.yaml',
  ]) {
    copyFileSync(new URL(`../../examples/${name}`, import.meta.url), join(folder, name))
  }
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

async function run(line: string | readonly string[]): Promise<TestWorld & { exit: number }> {
  const world = testWorld({ cwd: folder })
  const exit = await cli(typeof line === 'string' ? line.split(' ') : line, world)
  return { ...world, exit }
}
const file = (name: string) => readFileSync(join(folder, name), 'utf8')
const write = (name: string, text: string) => writeFileSync(join(folder, name), text)
describe('emit hub', () => {
  test('with a profile prints an entry for every opening, and says why the tally’s word is better', async () => {
    const { exit, out, err } = await run('emit hub ropewalk.yaml --profile teasel.profile.yaml')
    expect(exit).toBe(0)
    expect(parse(out())).toHaveLength(26)
    expect(err()).toMatch(/--wire tally/)
  })

  test('with --wire tally the entries hear the plain words, and nothing more is said of it', async () => {
    const { out, err } = await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --wire tally')
    expect(parse(out())[1]).toMatchObject({ line: 'ropewalk/tally/plain/W02', stirs: 'may-be-open', settles: 'closed' })
    expect(err()).not.toMatch(/--wire/)
  })

  test.each([
    ['teasel', ['lookouts']],
    ['bellframe', ['tower', 'ropes']],
    ['frisket', ['sheets']],
  ] as const)('learns from the one entry in %s and writes the other 25 beside it, once', async (name, path) => {
    const before = file(`${name}.hub.yaml`)
    const line = `emit hub ropewalk.yaml --like ${name}.hub.yaml --mark W01 --into ${name}.hub.yaml`
    const { exit, out, err } = await run(line)
    expect([exit, out()]).toEqual([0, ''])
    const [first] = err().split('\n')
    expect(first).toMatch(
      /^\w+\.hub\.yaml is written: 25 entries at \/[\w/]+, wired to the contacts themselves; by hand: W01 \(line \d+\)\.$/,
    )
    expect(err()).toMatch(/^Learned from the entry for W01 in/m)
    const after = file(`${name}.hub.yaml`)
    const held = path.reduce((value, key) => value[key], parse(after))
    expect(Object.values(held)).toHaveLength(26)
    expect(after.replace(/ *# sashtally ropewalk\/tally: begin[\s\S]*: end\n/, '')).toBe(before)
    expect((await run(`${line} --check`)).exit).toBe(0)
    const again = await run(line)
    expect([again.exit, file(`${name}.hub.yaml`)]).toEqual([0, after])
    expect(again.err()).toMatch(/^\w+\.hub\.yaml is up to date: 25 entries .*\n$/)
  })

  test('a saved profile makes the same entries as the example it came from', async () => {
    const learned = await run('emit hub ropewalk.yaml --like teasel.hub.yaml --mark W01 --save-profile p.yaml')
    const { out } = await run('emit hub ropewalk.yaml --profile p.yaml')
    expect(parse(out()).slice(1)).toEqual(parse(learned.out()))
  })

  test('--check tells what a changed register would change, and writes neither file', async () => {
    await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml')
    const before = file('teasel.hub.yaml')
    write('ropewalk.yaml', file('ropewalk.yaml').replace('Etching room', 'Etching hall'))
    const { exit, out } = await run(
      'emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml --check',
    )
    expect(exit).toBe(1)
    expect(out()).toMatch(/^\+.*"Etching hall"$/m)
    expect(file('teasel.hub.yaml')).toBe(before)
    await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml')
    expect(applyPatch(before, out())).toBe(file('teasel.hub.yaml'))
  })

  test('an opening that leaves the register leaves the hub’s file', async () => {
    await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml')
    write('ropewalk.yaml', file('ropewalk.yaml').replace(/ {2}- \{ mark: W21,[^}]*\}[^}]*\}\n/, ''))
    await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml')
    expect(parse(file('teasel.hub.yaml')).lookouts).toHaveLength(25)
    expect(file('teasel.hub.yaml')).not.toContain('w21')
  })

  test('--into with --out leaves the hub’s own file alone', async () => {
    const before = file('teasel.hub.yaml')
    expect(
      (await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into teasel.hub.yaml --out new.yaml')).exit,
    ).toBe(0)
    expect(file('teasel.hub.yaml')).toBe(before)
    expect(parse(file('new.yaml')).lookouts).toHaveLength(26)
  })

  test('a hub’s file with CRLF and a byte-order mark keeps both, and its mode and its link', async () => {
    write('win.yaml', `\uFEFF${file('teasel.hub.yaml').replaceAll('\n', '\r\n')}`)
    symlinkSync('win.yaml', join(folder, 'link.yaml'))
    const { mode } = statSync(join(folder, 'win.yaml'))
    expect((await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into link.yaml')).exit).toBe(0)
    const after = file('win.yaml')
    expect(after.startsWith('\uFEFF#')).toBe(true)
    expect(after).not.toMatch(/[^\r]\n/)
    expect(statSync(join(folder, 'win.yaml')).mode).toBe(mode)
    expect(file('link.yaml')).toBe(after)
  })

  test('what is open is refused with every place, settled with --fill, and nothing is written until then', async () => {
    write('own.yaml', `ears:\n  - hark: ropewalk/w01\n    id: sash_w01\n    also: X/ropewalk/W01\n    storey: 0\n`)
    const before = file('own.yaml')
    const line = 'emit hub ropewalk.yaml --like own.yaml --mark W01 --into own.yaml --save-profile p.yaml'
    const refused = await run(line)
    expect([refused.exit, refused.out(), file('own.yaml'), existsSync(join(folder, 'p.yaml'))]).toEqual([
      1,
      '',
      before,
      false,
    ])
    expect(refused.err().match(/\[(contains|number)\]/g)).toHaveLength(2)
    expect(refused.err()).toContain('own.yaml:3:9')
    expect(refused.err()).toContain(`--fill "/id=[kind, { text: '_' }, mark]"`)
    // A pair swallows no file that follows it.
    const [first = '', second = '', path = '', ...more] = line.split(' ')
    const pairs = ["/id=[{ text: 'sash=' }, mark]", '/also=', '/storey='].flatMap(pair => ['--fill', pair])
    const settled = await run([first, second, ...more, ...pairs, path])
    expect(settled.exit).toBe(0)
    expect(parse(file('own.yaml')).ears[1]).toEqual({
      hark: 'ropewalk/w02',
      id: 'sash=W02',
      also: 'X/ropewalk/W01',
      storey: 0,
    })
    expect(parse(file('p.yaml')).fill).toMatchObject({ '/id': [{ text: 'sash=' }, 'mark'], '/also': null })
    const after = file('own.yaml')
    const short = await run('emit hub ropewalk.yaml --into own.yaml')
    expect([short.exit, file('own.yaml')]).toEqual([0, after])
  })

  test.each([
    ['an alias at the place', 'base: &b []\nlookouts: *b\n', 'alias'],
    ['several documents', 'lookouts: []\n---\nlookouts: []\n', 'several-documents'],
    ['duplicate keys', 'lookouts: []\nlookouts: []\n', 'duplicate-key'],
    ['a tab', 'lookouts:\n\t- x\n', 'tab'],
    ['entries in brackets', 'lookouts: [{a: 1}]\n', 'flow'],
  ])('%s: a sentence with the place, exit 1, and the file as it was', async (_name, text, code) => {
    write('odd.yaml', text)
    const { exit, err, out } = await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into odd.yaml')
    expect([exit, out(), file('odd.yaml')]).toEqual([1, '', text])
    expect(err()).toMatch(new RegExp(`^odd\\.yaml:\\d+:\\d+ {2}[A-Z].* \\[${code}\\]$`, 'm'))
  })

  test('problems of profile and hub’s file are told in one go', async () => {
    write('p.yaml', `place: ears\nas: list\nentry: { a: {{x}} }\nfill: { /a: topick }\n`)
    write('h.yaml', `a: 1\n---\nb: 2\n`)
    const { exit, err } = await run('emit hub ropewalk.yaml --profile p.yaml --into h.yaml')
    expect(exit).toBe(1)
    for (const code of ['pointer', 'braces', 'field', 'several-documents']) expect(err()).toContain(`[${code}]`)
  })

  test.each([
    ['', /give --like with --mark, or --profile, or --into/],
    ['--profile p --like l --mark W01', /give one/],
    ['--like l', /--like needs --mark/],
    ['--profile p --mark W01', /--mark belongs to --like/],
    ['--profile p --fill /a=mark', /--fill belongs to --like/],
    ['--profile p --save-profile q', /--save-profile belongs/],
    ['--profile p --check', /--into or --out/],
    ['--profile p --wire hub', /--wire wants one of contact, tally; found "hub"/],
    ['--like l --mark W01 --fill a', /--fill wants \/pointer=field/],
    ['--like l --mark W01 --fill /a=[mark', /wants a field after =.*did you mean mark/],
    ['--like l --mark W01 --fill /a=[{x]', /A field is one of/],
    ['--like l --mark W01 --fill /a=[x]', /A field is one of/],
    ['--like l --mark W01 --take-over', /--take-over.*--into/],
    ['--into teasel.hub.yaml', /holds no block of this tally that keeps its profile/],
    ['--like l --mark W01 --fill /a=topick', /did you mean topic\?/],
    ['--like l --mark W01 --fill /a=name --fill /a=mark', /twice/],
    ['--like teasel.hub.yaml --mark w1', /no opening "w1"; .*did you mean W01\?/],
  ])('wrong use: %s', async (options, sentence) => {
    const { exit, err, out } = await run(['emit', 'hub', 'ropewalk.yaml', ...options.split(' ').filter(Boolean)])
    expect([exit, out()]).toEqual([2, ''])
    expect(err()).toMatch(sentence)
  })

  test.each([
    'emit asyncapi ropewalk.yaml --out ropewalk.yaml',
    'emit hub ropewalk.yaml --profile teasel.profile.yaml --out ./ropewalk.yaml',
    'emit hub ropewalk.yaml --profile teasel.profile.yaml --into ropewalk.yaml',
    'emit hub ropewalk.yaml --like teasel.hub.yaml --mark W01 --out teasel.hub.yaml',
    'emit hub ropewalk.yaml --like teasel.hub.yaml --mark W01 --save-profile teasel.hub.yaml',
  ])('no file that is read is written over: %s', async line => {
    const before = [file('ropewalk.yaml'), file('teasel.hub.yaml')]
    expect((await run(line)).exit).toBe(2)
    expect([file('ropewalk.yaml'), file('teasel.hub.yaml')]).toEqual(before)
  })

  test('a diff of thousands of lines ends quickly, and is one', async () => {
    const old = `lookouts:\n  # sashtally ropewalk/tally: begin, do not edit\n${'  - a: 1\n  - b: 2\n'.repeat(20_000)}  # sashtally ropewalk/tally: end\ntail: 1`
    write('h.yaml', old)
    const { exit, out } = await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into h.yaml --check')
    expect(exit).toBe(1)
    await run('emit hub ropewalk.yaml --profile teasel.profile.yaml --into h.yaml')
    expect(applyPatch(old, out())).toBe(file('h.yaml'))
  })

  test('a name cannot steer the terminal or the YAML', async () => {
    write('h.yaml', 'ears: []\n')
    write('p.yaml', `place: /ears\nas: list\nentry: { a: x, r: x }\nfill: { /a: name, /r: room }\n`)
    write(
      'r.yaml',
      file('ropewalk.yaml').replace("name: 'Dye room, south'", 'name: "x\\u001b[2J\\n- evil: 1\\u2028# end"'),
    )
    const { exit, err } = await run('emit hub r.yaml --profile p.yaml --into h.yaml')
    expect(exit).toBe(0)
    expect(err()).not.toContain('\u001b')
    expect(file('h.yaml')).not.toContain('\u001b')
    expect(parse(file('h.yaml')).ears[1].a).toBe('x\u001b[2J\n- evil: 1\u2028# end')
  })
})

test('the README’s section on hubs is what its commands do', async () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')
  const section = /## \d+\. Give it to your hub\n([\s\S]*?)\n## /.exec(readme)![1]!
  const blocks = (language: string) =>
    [...section.matchAll(new RegExp(`\`\`\`${language}\\n([\\s\\S]*?)\`\`\``, 'g'))].map(([, text]) => text!)
  const [entry, second] = blocks('yaml')
  expect(file('frisket.hub.yaml')).toContain(entry)
  write('house.yaml', file('ropewalk.yaml'))
  write('hub.yaml', entry!)
  const [learn, wire, short] = blocks('sh').map(line => line.trim().replace('sashtally ', ''))
  expect((await run(learn!)).err()).toMatch(/^hub\.yaml is written: 26 entries at \/sheets/)
  expect((await run(wire!)).exit).toBe(0)
  expect(file('hub.yaml')).toContain(second)
  write('house.yaml', file('house.yaml').replace('Dye room, west sash', 'Dye works'))
  expect((await run(`${short} --check`)).exit).toBe(1)
  expect((await run(short!)).exit).toBe(0)
  expect(file('hub.yaml')).toContain('caption: "Dye works (W01)"')
})

test('a mark in other letters is the mark: it is refused with its place, until --fill says what it is', async () => {
  write('low.yaml', `ears:\n  - hark: ropewalk/w01\n    id: w01\n`)
  const command = ['emit', 'hub', 'ropewalk.yaml', '--like', 'low.yaml', '--mark', 'W01']
  const refused = await run(command)
  expect(refused.exit).toBe(1)
  expect(refused.err()).toMatch(
    /^low\.yaml:3:9 {2}\/id would be "w01" in every entry, which still holds the mark of W01/,
  )
  expect(refused.err()).not.toMatch(/more than/)
  expect(refused.out()).toBe('')
  const marks = async (fill: string) => {
    const { exit, out } = await run([...command, '--fill', fill])
    expect(exit).toBe(0)
    return [...out().matchAll(/id: "?(\w+)"?/g)].map(([, id]) => id)
  }
  expect((await marks('/id=mark'))[0]).toBe('W02')
  expect(new Set(await marks('/id='))).toEqual(new Set(['w01']))
})
