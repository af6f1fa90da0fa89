import { type Path, type Raw, readTree, type Tree } from './document.ts'
import { problemsOf, valueAt } from './issues.ts'
import { pointer } from './problems.ts'
import { resolve } from './resolve.ts'
import { crossProblems } from './rules.ts'
import { type HouseText, house, loadName, loadPhases } from './schema.ts'
import type { Parsed, Problem } from './types.ts'

const MOST_PROBLEMS = 1000

/**
 * Reads a register text (YAML 1.2, at most 2,000,000 characters). Never throws.
 * @returns every problem in line order, and the register when none of them is an error
 */
export function parseRegister(text: string): Parsed {
  const tree = readTree(text)
  const problems = [...tree.problems]
  const { value } = tree
  if (value === undefined) return { problems }
  if (value === null) {
    if (!tree.broken)
      problems.push(
        tree.problem(
          [],
          'value',
          'no-register',
          'A register has senders and openings; this file is empty: run sashtally init, or begin with an example',
        ),
      )
    return { problems: inOrder(problems) }
  }
  if (typeof value !== 'object' || Array.isArray(value)) {
    const found = Array.isArray(value) ? 'a list' : 'a single value'
    problems.push(
      tree.problem(
        [],
        'value',
        'no-register',
        `A register is a map with senders and openings; this file is ${found}: put the openings under the key openings`,
      ),
    )
    return { problems: inOrder(problems) }
  }
  const bad = new Set<string>()
  const seen = new Set<string>()
  for (const issue of issuesOf(value)) {
    if (problems.length > MOST_PROBLEMS) break
    for (let end = issue.path.length; end >= 0; end--) bad.add(pointer(issue.path.slice(0, end)))
    for (const problem of problemsOf(issue, tree)) {
      const key = `${problem.path} ${problem.code}`
      if (!seen.has(key) && problems.length <= MOST_PROBLEMS) problems.push(problem)
      seen.add(key)
    }
  }
  problems.push(...crossProblems(tree, path => readable(tree, bad, path)))
  const ordered = inOrder(problems)
  if (ordered.some(problem => problem.severity === 'error')) return { problems: ordered }
  return {
    register: resolve(value as unknown as HouseText, index => tree.line(['openings', index])),
    problems: ordered,
  }
}

function issuesOf(value: { [key: string]: Raw }) {
  const issues = [...(house.safeParse(value).error?.issues ?? [])]
  const senders = valueAt(value, ['senders'])
  for (const [name, sender] of Object.entries(senders !== null && typeof senders === 'object' ? senders : {})) {
    const load = valueAt(sender, ['load'])
    if (load === undefined) continue
    const checked = (typeof load === 'object' ? loadPhases : loadName).safeParse(load)
    for (const issue of checked.error?.issues ?? [])
      issues.push({ ...issue, path: ['senders', name, 'load', ...issue.path] })
  }
  return issues
}

/** The value at a path when nothing is wrong with it or inside it. */
function readable(tree: Tree, bad: ReadonlySet<string>, path: Path): Raw | undefined {
  return bad.has(pointer(path)) ? undefined : valueAt(tree.value, path)
}

function inOrder(problems: readonly Problem[]): Problem[] {
  const ordered = [...problems].sort((a, b) => a.line - b.line || a.column - b.column)
  if (ordered.length <= MOST_PROBLEMS) return ordered
  const last = ordered[MOST_PROBLEMS - 1]!
  return [
    ...ordered.slice(0, MOST_PROBLEMS),
    {
      ...last,
      code: 'more',
      severity: 'error',
      message: `Only the first ${MOST_PROBLEMS} problems are listed: mend these and check again`,
    },
  ]
}
