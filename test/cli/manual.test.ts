import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS, GROUPS } from '../../src/cli/commands.ts'
import { manualOf } from '../../src/cli/help/manual.ts'
import { readGiven } from '../../src/cli/program/command.ts'
import { parserOf } from '../../src/cli/program/parser.ts'
import { fakeWorld } from '../support/world.ts'
import { wordsOf } from './words-of.ts'

const say = async (...argv: string[]) => {
  const world = fakeWorld()
  return { exit: await cli(argv, world), ...world.said }
}

describe('the help', () => {
  test.each(COMMANDS.map(command => [command.name, command] as const))(
    '%s says how to use it, with its examples',
    async (name, command) => {
      const { exit, stdout } = await say(...name.split(' '), '--help')
      expect(exit).toBe(0)
      for (const example of command.examples) expect(stdout).toContain(example)
      expect(command.examples.length).toBeGreaterThan(0)
    },
  )
  test.each(COMMANDS.flatMap(({ name, examples }) => examples.map(example => [example, name] as const)))(
    '%s is parsed as written',
    (example, name) => {
      const ran: string[] = []
      const argv = wordsOf(example.replace(/ [>|] .*$/, ''))
      expect(argv.shift()).toBe('sashtally')
      parserOf(GROUPS, fakeWorld(), (command, typed) => {
        readGiven(command, typed)
        ran.push(command.name)
      }).parse(argv, { from: 'user' })
      expect(ran).toEqual([name])
    },
  )
  test('the first page names every command under its heading, in the order a person meets them', async () => {
    const { stdout } = await say('--help')
    const words = [
      ...new Set(
        GROUPS.flatMap(({ heading, commands }) => [
          `${heading}:`,
          ...commands.map(({ name }) => `  ${name.split(' ')[0]} `),
        ]),
      ),
    ]
    const places = words.map(word => stdout.indexOf(`\n${word}`))
    expect(places).not.toContain(-1)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(new Set(COMMANDS.map(({ name }) => name)).size).toBe(COMMANDS.length)
  })
  test('no help holds a colour, on a terminal or off', async () => {
    for (const isTTY of [true, false]) {
      const world = fakeWorld()
      Object.assign(world.stdout, { isTTY })
      await cli(['--help'], world)
      expect(world.said.stdout).not.toContain('\u001b')
    }
  })
  test('--version prints the version of the package', async () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8'))
    expect(await say('--version')).toMatchObject({ exit: 0, stdout: `${version}\n`, stderr: '' })
  })
  test('a file or folder that is not there, or that is a folder, is told in words', async () => {
    for (const [path, words] of [
      ['none.yaml', 'there is no such file or folder; check the path'],
      ['.', 'it is a folder; name a file'],
    ] as const) {
      const { exit, stderr } = await say('check', path)
      expect([exit, stderr]).toEqual([3, `sashtally: ${path} cannot be read: ${words}\n`])
    }
  })
  test('an unknown command or option is wrong use', async () => {
    expect((await say('dance')).exit).toBe(2)
    expect((await say('check', 'x.yaml', '--dance')).exit).toBe(2)
    expect((await say()).exit).toBe(2)
  })
})

test('the README’s page of commands is the table’s', () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')
  const page = /<!-- commands: begin -->\n([\s\S]*)<!-- commands: end -->/.exec(readme)?.[1]
  expect(page).toBe(manualOf(GROUPS))
})
