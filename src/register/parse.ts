import type * as z from 'zod/mini'
import { pointerOf } from '../text/json-pointer.ts'
import type { Problem } from '../text/problem.ts'
import { withoutMark } from '../text/problems.ts'
import type { Path, Raw } from '../text/raw.ts'
import { allSteps, type Steps } from '../text/steps.ts'
import { readTree, type Tree } from '../text/tree.ts'
import { crossRules } from './cross-rules.ts'
import { resolve } from './resolve.ts'
import { valueAt } from './rule-context.ts'
import {
  brokerAddress,
  brokerAddresses,
  type HouseText,
  house,
  loadName,
  loadPhases,
  opening,
  sender,
} from './schema.ts'
import { problemsOf } from './schema-problems.ts'
import { nameSlips } from './slips/slips.ts'
import type { Parsed } from './types.ts'

const MOST_PROBLEMS = 1000

/**
 * Reads a register text (YAML 1.2, at most 2,000,000 characters). Never throws.
 * @returns every problem in line order, and the register when none of them is an error
 * @example
 * import { formatProblem, parseRegister } from 'sashtally'
 * const text = 'house: Ropewalk Studios\nopenings: []\n'
 * const { register, problems } = parseRegister(text)
 * console.log(register) // undefined
 * console.log(problems[0]?.code) // missing
 * console.log(formatProblem(problems[0]!, text, 'ropewalk.yaml').split('\n').length) // 3
 */
export const parseRegister = (text: string): Parsed => allSteps(registerSteps(text))

/** `parseRegister` in steps: all at once would stop the page of a slow tablet for a second. */
export function* registerSteps(text: string): Steps<Parsed> {
  const parsed = yield* parseAsIs(text)
  if (parsed.register) return parsed
  const problems = nameSlips(withoutMark(text), parsed.problems, mended => allSteps(parseAsIs(mended)).problems)
  return { problems: inOrder(problems) }
}

/** Every problem, also those that follow from another. */
function* parseAsIs(text: string): Steps<Parsed> {
  const tree = yield* readTree(text)
  const { value } = tree
  if (value === undefined) return { problems: tree.problems }
  if (value === null || typeof value !== 'object' || Array.isArray(value)) {
    if (value === null && !tree.whole) return { problems: inOrder(tree.problems) }
    const found = value === null ? 'empty' : Array.isArray(value) ? 'a list' : 'a single value'
    const advice = Array.isArray(value)
      ? 'put the openings under the key openings'
      : 'begin with an example, or with sashtally init'
    const message = `A register is a map with senders and openings; this file is ${found}: ${advice}`
    return { problems: inOrder([...tree.problems, tree.problem([], 'value', 'no-register', message)]) }
  }
  const collected = new Collected(tree.problems)
  const bad = new Set<string>()
  yield
  for (const issue of issuesOf(value)) {
    if (!issue) {
      yield
      continue
    }
    for (let end = issue.path.length; end >= 0; end--) bad.add(pointerOf(issue.path.slice(0, end)))
    collected.add('error', () => problemsOf(issue, tree))
  }
  yield* crossRules({
    root: value,
    whole: tree.whole,
    sendersWhole: tree.whole || areSendersWhole(tree),
    line: tree.line,
    read: path => (bad.has(pointerOf(path)) ? undefined : valueAt(value, path)),
    add: (path, at, code, message, severity = 'error') =>
      collected.add(severity, () => [
        tree.problem(path, at, code, typeof message === 'string' ? message : message(), severity),
      ]),
  })
  const problems = inOrder(collected.problems())
  if (problems.some(problem => problem.severity === 'error')) return { problems }
  yield
  const register = yield* resolve(value as unknown as HouseText, index => tree.line(['openings', index]))
  return { register, problems }
}

function areSendersWhole(tree: Tree): boolean {
  const [senders, openings] = [tree.line(['senders']), tree.line(['openings'])]
  return senders < openings && tree.problems.every(({ line }) => line >= openings)
}

type Issue = z.core.$ZodIssue

/** What the schema finds, part by part, so that a text of mistakes only costs no more than it must; nothing is a step. */
function* issuesOf(value: { [key: string]: Raw }): Generator<Issue | undefined> {
  yield* house.safeParse(value).error?.issues ?? []
  for (const [key, from] of partsOf(value.broker)) {
    yield* under(['broker', key], (Array.isArray(from) ? brokerAddresses : brokerAddress).safeParse(from))
  }
  for (const [name, from] of partsOf(value.senders)) {
    yield* under(['senders', name], sender.safeParse(from))
    const load = valueAt(from, ['load'])
    if (load === undefined) continue
    yield* under(['senders', name, 'load'], (typeof load === 'object' ? loadPhases : loadName).safeParse(load))
  }
  if (!Array.isArray(value.openings)) return
  for (const [index, from] of value.openings.entries()) {
    yield* under(['openings', index], opening.safeParse(from))
    yield
  }
}

const partsOf = (value: Raw | undefined): [string, Raw][] =>
  value !== null && typeof value === 'object' && !Array.isArray(value) ? Object.entries(value) : []

const under = (path: Path, result: { error?: { issues: readonly Issue[] } | undefined }): Issue[] =>
  (result.error?.issues ?? []).map(issue => ({ ...issue, path: [...path, ...issue.path] }))

/** Problems, each place and code once, of each severity at most `MOST_PROBLEMS`. */
class Collected {
  readonly #kept = new Map<string, Problem>()
  readonly #counts = { error: 0, warning: 0 }

  constructor(problems: readonly Problem[]) {
    for (const problem of problems) this.add(problem.severity, () => [problem])
  }

  add(severity: Problem['severity'], make: () => readonly Problem[]): void {
    if (this.#counts[severity] > MOST_PROBLEMS) return
    for (const problem of make()) {
      const key = `${problem.line}:${problem.column} ${problem.path} ${problem.code}`
      if (this.#kept.has(key)) continue
      if (++this.#counts[severity] > MOST_PROBLEMS) {
        const message = `Only ${MOST_PROBLEMS} ${severity}s are listed: mend these and check again`
        this.#kept.set(`more ${severity}`, { ...problem, path: '', code: 'more', message })
        return
      }
      this.#kept.set(key, problem)
    }
  }

  problems(): Problem[] {
    return [...this.#kept.values()]
  }
}

const inOrder = (problems: readonly Problem[]): Problem[] =>
  [...problems].sort(
    (a, b) => Number(a.code === 'more') - Number(b.code === 'more') || a.line - b.line || a.column - b.column,
  )
