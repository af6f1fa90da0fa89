import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS } from '../../src/cli/commands.ts'
import { SHELLS } from '../../src/cli/help/commands.ts'
import { longOf } from '../../src/cli/program/option.ts'
import { SAYABLE } from '../../src/protocol/whats.ts'
import { have } from '../support/have.ts'
import { fakeWorld } from '../support/world.ts'

const scriptOf = async (shell: string) => {
  const world = fakeWorld()
  expect(await cli(['completion', shell], world)).toBe(0)
  return world.said.stdout
}
let folder: string
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-completion-'))
  for (const shell of SHELLS) writeFileSync(join(folder, shell), await scriptOf(shell))
  writeFileSync(join(folder, 'my house.yaml'), '')
  writeFileSync(
    join(folder, 'marks.yaml'),
    'openings:\n  - { mark: W01, name: \'x\'\n  - mark: \'W02\'\n  - { "mark": "W03" }\n  - { name: y, mark: D-01 }\n# - { mark: W99 }\n',
  )
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const quoted = (words: readonly string[]) => words.map(word => `'${word}'`).join(' ')
const run = (program: string, ...argv: string[]): string[] => {
  const done = spawnSync(program, argv, { encoding: 'utf8', cwd: folder, env: { ...process.env, HOME: folder } })
  expect(done.stderr).toBe('')
  expect(done.status).toBe(0)
  return done.stdout.split('\n').filter(Boolean).sort()
}

/** What each shell offers for a line whose last word is being typed. */
const OFFERS: Readonly<Record<(typeof SHELLS)[number], (typed: readonly string[]) => string[]>> = {
  bash: typed =>
    run(
      'bash',
      '-c',
      `source ./bash; COMP_WORDS=(sashtally ${quoted(typed)}); COMP_CWORD=${typed.length}; _sashtally; printf '%s\\n' "\${COMPREPLY[@]}"`,
    ),
  // The completion system wants an editor: its two builtins are stood in for, and filter as they do.
  zsh: typed =>
    run(
      'zsh',
      '-f',
      '-c',
      `compdef() { }; compadd() { shift; print -l -- \${(M)@:#\${words[CURRENT]}*} }; _files() { print -l -- \${words[CURRENT]}*(N) }
      source ./zsh; words=(sashtally ${quoted(typed)}); CURRENT=${typed.length + 1}; _sashtally`,
    ),
  fish: typed =>
    run('fish', '--no-config', '-c', `source ./fish; complete -C 'sashtally ${typed.join(' ')}'`).map(
      line => line.split('\t')[0] ?? '',
    ),
}

test.each(SHELLS)('%s has every command and option', async shell => {
  const text = await scriptOf(shell)
  for (const { name, options } of COMMANDS) {
    for (const word of name.split(' ')) expect(text).toContain(word)
    for (const option of Object.keys(options)) expect(text).toContain(longOf(option).slice(2))
  }
})
test('another shell is wrong use', async () => {
  for (const shell of ['tea', 'toString']) expect(await cli(['completion', shell], fakeWorld())).toBe(2)
})
test.each(['bash', 'zsh'])('the text for %s is sound to a reader of shell text', shell => {
  run('bash', '-n', shell)
})

for (const shell of SHELLS) {
  if (!have(shell)) {
    test(`${shell} is not installed here: it has not run, only its text is looked at`, async () => {
      const lines = (await scriptOf(shell)).split('\n')
      // An even count of quotes on each line: none is left open.
      for (const line of lines) expect(line.replaceAll("'\\''", '').split("'").length % 2).toBe(1)
    })
    continue
  }
  describe(`${shell} itself offers`, () => {
    const offers = OFFERS[shell]
    test('every command', () => {
      const firsts = [...new Set(COMMANDS.map(({ name }) => name.split(' ')[0]!))].sort()
      expect(offers([''])).toEqual(firsts)
      expect(offers(['che'])).toEqual(['check'])
    })
    test('the parts of a group', () => {
      expect(offers(['emit', 'as'])).toEqual(['asyncapi'])
      expect(offers(['emit', ''])).toEqual([
        'access',
        'asyncapi',
        'broker',
        'calendar',
        'firmware',
        'hub',
        'labels',
        'schedule',
        'schema',
        'things',
      ])
    })
    test('options of the command that was typed', () => {
      expect(offers(['emit', 'hub', '--prof'])).toEqual(['--profile'])
      expect(offers(['round', 'x.yaml', '--le'])).toEqual(['--leave-out-natural'])
    })
    test('values where an option or an argument has a few', () => {
      expect(offers(['emit', 'hub', '--wire', ''])).toEqual(['contact', 'tally'])
      expect(offers(['completion', ''])).toEqual(['bash', 'fish', 'zsh'])
    })
    test('the marks of the register that was typed, also while it is broken', () => {
      expect(offers(['prove', 'marks.yaml', ''])).toEqual(['D-01', 'W01', 'W02', 'W03'])
      expect(offers(['prove', 'marks.yaml', 'W0'])).toEqual(['W01', 'W02', 'W03'])
      expect(offers(['rehearse', 'marks.yaml', 'W01', 'D'])).toEqual(['D-01'])
      expect(offers(['emit', 'hub', 'marks.yaml', '--mark', 'D'])).toEqual(['D-01'])
    })
    test('what may be said, behind the mark, wherever options stand', () => {
      expect(offers(['say', 'marks.yaml', ''])).toEqual(['D-01', 'W01', 'W02', 'W03', 'all'])
      expect(offers(['say', 'marks.yaml', 'W01', ''])).toEqual([...SAYABLE].sort())
      expect(offers(['say', '--by', 'Ada', 'marks.yaml', 'W01', 'seen'])).toEqual(['seen-closed'])
    })
    test('files elsewhere, with blanks in their names', () => {
      const [file] = offers(['check', 'my'])
      expect(file?.replaceAll('\\', '')).toBe('my house.yaml')
    })
  })
}
