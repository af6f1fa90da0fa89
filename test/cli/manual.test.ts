import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS, GROUPS } from '../../src/cli/commands.ts'
import { PAGES } from '../../src/cli/help/commands.ts'
import { manualOf } from '../../src/cli/help/manual.ts'
import { readGiven } from '../../src/cli/program/command.ts'
import { parserOf } from '../../src/cli/program/parser.ts'
import { mayBeOpen, UNSURE } from '../../src/ledger/headline.ts'
import { DOUBTS, type Doubt, POSITIONS, type Position } from '../../src/protocol/reading.ts'
import { parseRegister } from '../../src/register/parse.ts'
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

describe('the manual', () => {
  const root = fileURLToPath(new URL('../..', import.meta.url))
  const read = (path: string) => readFileSync(join(root, path), 'utf8')
  const texts = ['README.md', ...PAGES.map(page => `src/manual/${page}.md`)].map(page => ({ page, text: read(page) }))

  test('readings has every position and every doubt, and which take certainty', () => {
    const rows = [...read('src/manual/readings.md').matchAll(/^\| `([a-z-]+)` \|(.*)\|$/gm)].map(
      ([, word = '', rest = '']) => ({ word, cells: rest.split('|').map(cell => cell.trim()) }),
    )
    const countsAs = (position: Position) => (mayBeOpen({ position }) ? 'may be open' : 'not certain')
    expect(rows.map(({ word }) => word)).toEqual([...POSITIONS, ...DOUBTS])
    for (const { word, cells } of rows.slice(0, POSITIONS.length))
      expect([word, cells[1]]).toEqual([
        word,
        word === 'closed' ? expect.stringMatching(/^shut/) : countsAs(word as Position),
      ])
    for (const { word, cells } of rows.slice(POSITIONS.length))
      expect([word, cells[1]]).toEqual([word, UNSURE.includes(word as Doubt) ? 'yes' : 'no'])
  })

  test('the page of commands is the table’s: sashtally manual > src/manual/commands.md', () => {
    expect(read('src/manual/commands.md')).toBe(manualOf(GROUPS))
  })
  test.each(PAGES)('%s is printed as it stands', async page => {
    expect(await say('manual', page)).toEqual({ exit: 0, stdout: read(`src/manual/${page}.md`), stderr: '' })
  })
  test('every page of the folder can be asked for, and is listed with its title', async () => {
    expect([...PAGES].sort()).toEqual(readdirSync(join(root, 'src/manual')).map(name => name.replace('.md', '')))
    const { stdout } = await say('manual', '--pages')
    expect(
      stdout
        .trim()
        .split('\n')
        .map(line => line.split(/ {2,}/)[0]),
    ).toEqual(PAGES)
    for (const line of stdout.trim().split('\n')) expect(line).toMatch(/^[a-z]+ +[A-Z].*[a-z]$/)
  })
  test('an unknown page is wrong use', async () => {
    expect(await say('manual', 'attic')).toMatchObject({ exit: 2, stderr: expect.stringContaining('found "attic"') })
  })
  test('a link from README or page leads to a file of the package, and to a heading that is there', () => {
    const { files } = JSON.parse(read('package.json')) as { files: string[] }
    const anchors = (text: string) =>
      [...text.matchAll(/^#+ (.*)$/gm)].map(([, title = '']) =>
        title
          .toLowerCase()
          .replace(/[^a-z0-9 -]/g, '')
          .replaceAll(' ', '-'),
      )
    const links = texts.flatMap(({ page, text }) =>
      [...text.matchAll(/(?<!!)\[[^\]]*\]\(([^)#]*)(?:#([^)]*))?\)/g)].map(([, path = '', anchor]) => ({
        page,
        path,
        anchor,
      })),
    )
    expect(links.length).toBeGreaterThan(12)
    for (const { page, path, anchor } of links) {
      const target = path === '' ? page : relative(root, resolve(root, dirname(page), path))
      expect([page, path, existsSync(join(root, target))]).toEqual([page, path, true])
      expect(
        files.some(file => target === file || target.startsWith(`${file}/`)),
        `${target} is published`,
      ).toBe(true)
      if (anchor !== undefined) expect(anchors(read(target))).toContain(anchor)
    }
    const linked = links.filter(({ page }) => page === 'README.md').map(({ path }) => path)
    expect(linked).toEqual(expect.arrayContaining(texts.map(({ page }) => page).slice(1)))
  })

  test('every command line that README and pages show is parsed as it stands', () => {
    const lines = texts.flatMap(({ text }) =>
      [...text.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap(([, block = '']) =>
        [...block.replaceAll('\\\n', '').matchAll(/^sashtally (.*?)(?: +#.*| > .*)?$/gm)].map(([, line = '']) => line),
      ),
    )
    expect(lines.length).toBeGreaterThan(50)
    const typed = (line: string) =>
      parserOf(GROUPS, fakeWorld(), (command, given) => void readGiven(command, given)).parse(wordsOf(line), {
        from: 'user',
      })
    for (const line of lines) expect(() => typed(line), line).not.toThrow()
  })
  test('the register that README shows is sound', () => {
    const [, yaml = ''] = /```yaml\n(house: [\s\S]*?)```/.exec(read('README.md'))!
    expect(parseRegister(yaml).problems).toEqual([])
  })
})
