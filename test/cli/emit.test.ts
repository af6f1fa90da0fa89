import { copyFileSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
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
  copyFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), join(folder, 'ropewalk.yaml'))
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

test.each([
  ['emit asyncapi ropewalk.yaml --of tally', (out: string) => Object.keys(parse(out).channels).length],
  ['emit things ropewalk.yaml', (out: string) => JSON.parse(out).length],
  ['emit schema', (out: string) => Object.keys(JSON.parse(out).properties).length],
])('%s prints what it makes and nothing else, and --check compares it', async (line, count) => {
  const { exit, out, err } = await run(line)
  expect([exit, err(), count(out()) > 5]).toEqual([0, '', true])
  expect((await run(`${line} --out made`)).exit).toBe(0)
  expect(file('made')).toBe(out())
  expect((await run(`${line} --out made --check`)).exit).toBe(0)
  write('made', `${out()} `)
  expect((await run(`${line} --out made --check`)).exit).toBe(1)
  expect((await run(`${line} --check`)).exit).toBe(2)
})
