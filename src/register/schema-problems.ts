import type * as z from 'zod/mini'
import { SECRET } from '../text/masked.ts'
import { nearest } from '../text/nearest.ts'
import type { Problem } from '../text/problem.ts'
import { shown } from '../text/problems.ts'
import type { Path, Raw } from '../text/raw.ts'
import type { Tree } from '../text/tree.ts'
import { valueAt, whose } from './rule-context.ts'
import { house, houseShape, loadPhases, opening, openingShape, SETTING_KEYS, sender, senderShape } from './schema.ts'

// Far more than anyone reads; a text of keys only must not cost minutes.
const MOST_KEYS = 1001
const SETTINGS: ReadonlySet<string> = new Set(SETTING_KEYS)
const HOMES = { 'the house': houseShape, 'a sender': senderShape, 'an opening': openingShape }

/** Turns one finding of the schema into problems with a place and a sentence. */
export function problemsOf(issue: z.core.$ZodIssue, tree: Tree): Problem[] {
  const path = issue.path as Path
  const owner = whose(tree.value, path)
  const lead = owner ? `${owner}: ` : ''
  if (issue.code === 'unrecognized_keys') {
    const known = Object.keys((valueShape(path) ?? {}) as object)
    return issue.keys
      .slice(0, MOST_KEYS)
      .map(key => tree.problem([...path, key], 'key', ...unknownKey(key, known, lead)))
  }
  const [code = '', sentence = ''] = issue.message.split('|', 2)
  const found = valueAt(tree.value, path)
  const key = String(path.at(-1) ?? '')
  if (found === undefined || (found === null && issue.code === 'invalid_type' && path.length > 0)) {
    // After a YAML error a key may be missing only because its line could not be read.
    if (!tree.whole) return []
    const there = found === null
    const message = `${lead}${there ? `${shown(key)} has no value` : `${shown(key)} is missing`}. ${sentence}: ${there ? 'write it after the colon' : 'add it'}`
    return [tree.problem(path, there ? 'key' : 'value', there ? 'empty' : 'missing', message)]
  }
  if (issue.code === 'invalid_type' && issue.expected === 'string' && typeof found !== 'object') {
    const source = tree.source(path)
    const kind = typeof found === 'boolean' ? 'a yes or no' : `the number ${String(found)}`
    return [
      tree.problem(
        path,
        'value',
        'unquoted',
        `${lead}${sentence}; YAML reads ${shown(source).slice(1, -1)} as ${kind}: write '${shown(source).slice(1, -1)}' in quotes`,
      ),
    ]
  }
  return [tree.problem(path, 'value', code, `${lead}${sentence}; found ${shown(found)}${advice(issue, found)}`)]
}

function advice(issue: z.core.$ZodIssue, found: Raw): string {
  if (issue.code === 'invalid_value' && typeof found === 'string') {
    const meant = nearest(found, issue.values.map(String))
    return meant ? `: did you mean ${meant}?` : ': choose one of them'
  }
  if (issue.code === 'invalid_type' && typeof found === 'string' && /^(?:number|int)$/.test(issue.expected)) {
    return found.trim() !== '' && Number.isFinite(Number(found))
      ? ': take the quotes away'
      : ': write a plain number, the unit stands in the key'
  }
  return ': change it'
}

function unknownKey(key: string, known: readonly string[], lead: string): [string, string] {
  if (SECRET.test(key)) {
    return [
      'secret',
      `${lead}Secrets never stand in the register; ${shown(key)} is no key of it: take it out, commands ask for a password or read it from a file`,
    ]
  }
  if (key === 'ssid') {
    return [
      'secret',
      `${lead}The network's name is wifi: { name: … }, and its password stands in private.h beside the firmware, never in the register: write name instead of ssid`,
    ]
  }
  if (key === '<<')
    return ['unknown-key', `${lead}Merge keys (<<) are not read: put what is shared on the sender or the house`]
  const meant = nearest(key, known)
  const home = Object.entries(HOMES).find(([, shape]) => Object.hasOwn(shape, key))?.[0]
  const hint = meant && meant.toLowerCase() === key.toLowerCase() ? meant : home ? undefined : meant
  const advise = hint
    ? `did you mean ${hint}?`
    : home
      ? `it belongs to ${home}`
      : `take it out, or use one of ${known.filter(name => !SETTINGS.has(name)).join(', ')}`
  return ['unknown-key', `${lead}Only known keys are read; ${shown(key)} is none here: ${advise}`]
}

/** The keys that may stand in the map that a path leads to. */
function valueShape(path: Path): object | undefined {
  let [schema, rest]: [unknown, Path] = [house, path]
  if (path[0] === 'senders' && path.length > 1)
    [schema, rest] = [path[2] === 'load' ? loadPhases : sender, path.slice(path[2] === 'load' ? 3 : 2)]
  if (path[0] === 'openings' && path.length > 1) [schema, rest] = [opening, path.slice(2)]
  for (const step of rest) {
    const def = defOf(schema)
    schema = typeof step === 'string' ? def?.shape?.[step] : def?.element
  }
  return defOf(schema)?.shape
}

interface Def {
  readonly shape?: Readonly<Record<string, unknown>>
  readonly element?: unknown
  readonly innerType?: unknown
}

/** The definition of a schema, `optional` and `nullable` taken off. */
export function defOf(schema: unknown): Def | undefined {
  const def = (schema as { def?: Def } | undefined)?.def
  return def?.innerType ? defOf(def.innerType) : def
}
