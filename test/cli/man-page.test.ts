import { execFileSync, spawnSync } from 'node:child_process'
import { expect, test } from 'vitest'
import { GROUPS } from '../../src/cli/commands.ts'
import { manPageOf } from '../../src/cli/help/man-page.ts'
import { flagsOf } from '../../src/cli/program/option.ts'
import { needs } from '../support/missing.ts'

const page = manPageOf(GROUPS, '1.2.3')

const groff = needs('groff')

test(groff.title('groff has no complaint, and shows all of the table'), { skip: groff.skip }, () => {
  const checked = spawnSync('groff', ['-man', '-Tutf8', '-ww', '-z'], { input: page, encoding: 'utf8' })
  expect(checked.stderr).toBe('')
  // One line as long as it likes, no hyphenation, no bold.
  const flat = ['-man', '-Tutf8', '-P-cbou', '-rLL=2000n', '-rHY=0']
  const shown = execFileSync('groff', flat, { input: page, encoding: 'utf8' }).replace(/ +/g, ' ')
  for (const { name, options, examples } of GROUPS.flatMap(({ commands }) => commands)) {
    expect(shown).toContain(`sashtally ${name}`)
    for (const [option, said] of Object.entries(options)) expect(shown).toContain(flagsOf(option, said))
    for (const example of examples) expect(shown).toContain(example.replace(/ +/g, ' '))
  }
  expect(shown).toMatch(/EXIT STATUS[\s\S]* 3 The world failed/)
})

test('no text of a command becomes a request of the page', () => {
  const odd = {
    name: 'odd',
    summary: '.so /etc/hostname',
    args: {},
    options: {},
    examples: ["'\\fBbold\\fR", '.ex'],
    run: async () => 0 as const,
  }
  const lines = manPageOf([{ heading: 'Odd', commands: [odd] }], '1.2.3').split('\n')
  expect(lines).toContain('\\&.so /etc/hostname')
  expect(lines).toContain('\\(aq\\(rsfBbold\\(rsfR')
  expect(lines).toContain('\\&.ex')
})
