import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
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
const tidy = () => readdirSync(folder).filter(name => name.startsWith('.'))

describe('emit asyncapi', () => {
  test('prints nothing but YAML', async () => {
    const { exit, out, err } = await run('emit asyncapi ropewalk.yaml')
    expect(exit).toBe(0)
    expect(Object.keys(parse(out()).servers)).toHaveLength(26)
    expect(err()).toBe('')
  })

  test('writes a file whole, and --check tells when it is out of date', async () => {
    expect((await run('emit asyncapi ropewalk.yaml --out a.yaml')).exit).toBe(0)
    expect((await run('emit asyncapi ropewalk.yaml --out a.yaml --check')).exit).toBe(0)
    const made = file('a.yaml')
    write('a.yaml', made.replace('keepAlive: 4', 'keepAlive: 5'))
    const { exit, out } = await run('emit asyncapi ropewalk.yaml --out a.yaml --check')
    expect(exit).toBe(1)
    expect(out()).toMatch(/^-.*keepAlive: 5$/m)
    expect(applyPatch(file('a.yaml'), out())).toBe(made)
    expect(file('a.yaml')).toContain('keepAlive: 5')
    expect(tidy()).toEqual([])
  })

  test('a missing file is out of date, and --check does not make it', async () => {
    const { exit, out } = await run('emit asyncapi ropewalk.yaml --out none.yaml --check')
    expect(exit).toBe(1)
    expect(out()).toMatch(/^\+asyncapi/m)
    expect(existsSync(join(folder, 'none.yaml'))).toBe(false)
  })

  test('wrong use ends with 2, a bad register with 1, an unreadable one with 3', async () => {
    expect((await run('emit asyncapi ropewalk.yaml --check')).exit).toBe(2)
    expect((await run('emit asyncapi nowhere.yaml')).exit).toBe(3)
    write('bad.yaml', file('ropewalk.yaml').replace('ropewalk/w02', "'ropewalk/{w02}'"))
    const { exit, err, out } = await run('emit asyncapi bad.yaml --out a.yaml')
    expect([exit, out(), existsSync(join(folder, 'a.yaml'))]).toEqual([1, '', false])
    expect(err()).toMatch(/bad\.yaml:\d+:\d+ {2}The topic of W02 holds a brace/)
  })
})

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
    ['teasel', (v: Record<string, never>) => Object.values(v.lookouts!)],
    ['bellframe', (v: Record<string, never>) => Object.values((v.tower! as { ropes: object }).ropes)],
  ] as const)('learns from the one entry in %s and writes the other 25 beside it, once', async (name, entries) => {
    const before = file(`${name}.hub.yaml`)
    const line = `emit hub ropewalk.yaml --like ${name}.hub.yaml --mark W01 --into ${name}.hub.yaml`
    const { exit, out, err } = await run(line)
    expect([exit, out()]).toEqual([0, ''])
    expect(err()).toMatch(/Kept by hand, so left out: W01 \(line \d+\)/)
    expect(err()).toMatch(/^fill:$/m)
    const after = file(`${name}.hub.yaml`)
    expect(entries(parse(after))).toHaveLength(26)
    expect(after.replace(/ *# sashtally ropewalk\/tally: begin[\s\S]*: end\n/, '')).toBe(before)
    expect((await run(`${line} --check`)).exit).toBe(0)
    const again = await run(line)
    expect([again.exit, file(`${name}.hub.yaml`)]).toEqual([0, after])
    expect(again.err()).toContain('up to date')
  })

  test('a saved profile makes the same entries as the example it came from', async () => {
    const learned = await run('emit hub ropewalk.yaml --like teasel.hub.yaml --mark W01 --save-profile p.yaml')
    expect(learned.err()).not.toMatch(/^fill:$/m)
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

  test('a mark in other letters is not called more than the mark', async () => {
    write('low.yaml', `ears:\n  - hark: ropewalk/w01\n    id: w01\n`)
    const { exit, err } = await run('emit hub ropewalk.yaml --like low.yaml --mark W01')
    expect(exit).toBe(1)
    expect(err()).toMatch(/\/id is "w01", which differs from the mark of W01 in upper and lower case only/)
    expect(err()).not.toMatch(/more than/)
  })

  test('what is open is refused with every place, settled with --fill, and nothing is written until then', async () => {
    write('own.yaml', `ears:\n  - hark: ropewalk/w01\n    id: sash-W01\n    also: x/ropewalk/w01\n`)
    const before = file('own.yaml')
    const line = 'emit hub ropewalk.yaml --like own.yaml --mark W01 --into own.yaml --save-profile p.yaml'
    const refused = await run(line)
    expect([refused.exit, refused.out(), file('own.yaml'), existsSync(join(folder, 'p.yaml'))]).toEqual([
      1,
      '',
      before,
      false,
    ])
    expect(refused.err().match(/\[contains\]/g)).toHaveLength(2)
    expect(refused.err()).toContain('own.yaml:3:9')
    // A pair swallows no file that follows it.
    const [first = '', second = '', path = '', ...more] = line.split(' ')
    const settled = await run([first, second, ...more, '--fill', '/id=mark', '--fill', '/also=', path])
    expect(settled.exit).toBe(0)
    expect(parse(file('own.yaml')).ears[1]).toEqual({ hark: 'ropewalk/w02', id: 'sash-W02', also: 'x/ropewalk/w01' })
    expect(parse(file('p.yaml')).fill['/id']).toEqual({ field: 'mark', before: 'sash-' })
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
    ['', /give --profile, or --like/],
    ['--profile p --like l --mark W01', /give one/],
    ['--like l', /--like needs --mark/],
    ['--profile p --mark W01', /--mark belongs to --like/],
    ['--profile p --fill /a=mark', /--fill belongs to --like/],
    ['--profile p --save-profile q', /--save-profile belongs/],
    ['--profile p --check', /--into or --out/],
    ['--profile p --wire hub', /--wire wants one of contact, tally; found "hub"/],
    ['--like l --mark W01 --fill a', /--fill wants \/pointer=field/],
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
