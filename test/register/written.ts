import { parseRegister } from '../../src/register/parse.ts'
import type { Register } from '../../src/register/types.ts'
import type { Problem } from '../../src/text/problem.ts'
import { withoutMark } from '../../src/text/problems.ts'

/** A small sound house; `more` is YAML to go before the senders, `openings` and `senders` stand in for ours. */
export function written({
  head = '',
  senders = '  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }',
  openings = '  - { mark: W01, name: Dye room, sender: coin }',
  tally = 'ropewalk/tally',
} = {}): string {
  const above = head === '' ? '' : `${head}\n`
  return `house: Ropewalk Studios\ntimezone: Europe/Lisbon\ntally: ${tally}\n${above}senders:\n${senders}\nopenings:\n${openings}\n`
}

/** What a problem underlines in its text. */
export function underlined(text: string, problem: Problem): string {
  const line = withoutMark(text).split('\n')[problem.line - 1] ?? ''
  return line.slice(problem.column - 1, problem.column - 1 + problem.length)
}

/** Each problem as `code underlined-text`, warnings with a leading `?`. */
export const found = (text: string): string[] =>
  parseRegister(text).problems.map(
    problem => `${problem.severity === 'warning' ? '?' : ''}${problem.code} ${underlined(text, problem)}`,
  )

/** The register of a text that must have no error. */
export function sound(text: string): Register {
  const { register, problems } = parseRegister(text)
  if (!register) throw new Error(problems.map(problem => problem.message).join('\n'))
  return register
}
