import type { Problem } from '../text/problem.ts'
import { shown } from '../text/problems.ts'
import type { Path, Raw } from '../text/raw.ts'
import { MARK } from './types.ts'

/** What a rule may look at, and where it puts what it finds. */
export interface RuleContext {
  /** The value at a path; undefined where the text has a problem of its own there. */
  read(path: Path): Raw | undefined
  /** The whole value, sound or not. */
  readonly root: { readonly [key: string]: Raw }
  /** False after a YAML error: what is missing may stand on a line that could not be read. */
  readonly whole: boolean
  /** False where a YAML error may have cost a sender: one stands before the openings, or the senders come after it. */
  readonly sendersWhole: boolean
  /** The line of a value, from 1. */
  line(path: Path): number
  add(
    path: Path,
    at: 'key' | 'value',
    code: string,
    message: string | (() => string),
    severity?: Problem['severity'],
  ): void
}

/** The value that a path leads to, undefined when it leads nowhere. */
export function valueAt(root: unknown, path: readonly PropertyKey[]): Raw | undefined {
  let value = root
  for (const step of path) {
    if (value === null || typeof value !== 'object' || !Object.hasOwn(value, step)) return undefined
    value = (value as Record<PropertyKey, unknown>)[step]
  }
  return value as Raw | undefined
}

/** A value where it is text. */
export const textOf = (value: Raw | undefined): string | undefined => (typeof value === 'string' ? value : undefined)

/** Keys of a map; none when it is no map. */
export const namesIn = (value: Raw | undefined): string[] =>
  value !== null && typeof value === 'object' && !Array.isArray(value) ? Object.keys(value) : []

/** What a sentence calls the thing that a path leads into: `W07`, `opening 12`, `sender coin`, or '' for the house. */
export function whose(root: unknown, path: readonly PropertyKey[]): string {
  const [first, second] = path
  if (first === 'senders' && second !== undefined) return `sender ${shown(second).slice(1, -1)}`
  if (first !== 'openings' || typeof second !== 'number') return ''
  const mark = valueAt(root, [first, second, 'mark'])
  return typeof mark === 'string' && MARK.test(mark) ? mark : `opening ${second + 1}`
}
