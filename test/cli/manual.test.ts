import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { cli, programOf } from '../../src/cli/cli.ts'
import { COMMANDS } from '../../src/cli/commands.ts'
import { SHELLS } from '../../src/cli/completion.ts'
import { manualOf } from '../../src/cli/manual.ts'
import { fakeWorld } from '../support/world.ts'

const say = async (...argv: string[]) => {
  const world = fakeWorld()
  return { exit: await cli(argv, world), ...world.said }
}

/** Words of a shell line: blanks part them, single quotes hold them together. */
const wordsOf = (line: string): string[] =>
  [...line.matchAll(/'([^']*)'|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain!)

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
      programOf(COMMANDS, fakeWorld(), spec => void ran.push(spec.name)).parse(argv, { from: 'user' })
      expect(ran).toEqual([name])
    },
  )
  test('an unknown command or option is wrong use', async () => {
    expect((await say('dance')).exit).toBe(2)
    expect((await say('check', 'x.yaml', '--dance')).exit).toBe(2)
    expect((await say()).exit).toBe(2)
  })
})

test('the README’s page of commands is the table’s', () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')
  const page = /<!-- commands: begin -->\n([\s\S]*)<!-- commands: end -->/.exec(readme)?.[1]
  expect(page).toBe(manualOf(COMMANDS))
})

describe('completion', () => {
  const bash = (typed: string[]) => {
    const script = `source /dev/stdin <<'END'\n${completion.bash}\nEND\nCOMP_WORDS=(sashtally ${typed.map(word => `'${word}'`).join(' ')}); COMP_CWORD=${typed.length}; _sashtally; printf '%s\\n' "\${COMPREPLY[@]}"`
    const done = spawnSync('bash', ['-c', script], { encoding: 'utf8' })
    expect(done.stderr).toBe('')
    return done.stdout.trim().split('\n')
  }
  const completion: Record<string, string> = {}
  test.each([...SHELLS])('%s has every command and option', async shell => {
    completion[shell] = (await say('completion', shell)).stdout
    for (const { name, options } of COMMANDS) {
      for (const word of name.split(' ')) expect(completion[shell]).toContain(word)
      for (const { flags } of options) expect(completion[shell]).toContain(/--([a-z-]+)/.exec(flags)![1])
    }
  })
  test('bash completes commands, parts of a group, and options', () => {
    expect(bash(['che'])).toEqual(['check'])
    expect(bash(['emit', 'as'])).toEqual(['asyncapi'])
    expect(bash(['emit', 'hub', '--prof'])).toEqual(['--profile'])
    expect(bash(['round', '--le'])).toEqual(['--leave-out-natural'])
  })
  test('another shell is wrong use', async () => {
    expect((await say('completion', 'tea')).exit).toBe(2)
  })
})
