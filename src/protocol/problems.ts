/** Everything that is wrong with a value from outside, in sentences for the person who wrote it. */
import type * as z from 'zod/mini'
import { shown, tame } from '../text/problems.ts'

const MOST_PROBLEMS = 20

/**
 * Checks a value strictly.
 * @param what - what the value should be, such as `an entry`
 * @returns the value as the schema has it, or every problem: where, what rule, what was found
 */
export function checked<T>(
  schema: z.ZodMiniType<T>,
  value: unknown,
  what: string,
): { readonly value: T } | { readonly problems: readonly string[] } {
  const result = schema.safeParse(value)
  if (result.success) return { value: result.data }
  const problems = result.error.issues.flatMap(issue => sentences(issue, value, what))
  const more = problems.length - MOST_PROBLEMS
  return { problems: more > 0 ? [...problems.slice(0, MOST_PROBLEMS), `and ${more} more`] : problems }
}

function sentences(issue: z.core.$ZodIssue, root: unknown, what: string): string[] {
  const { path, message } = issue
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.slice(0, MOST_PROBLEMS).map(key => `${placeOf([...path, key])} is no field of ${what}`)
  }
  // A rule between fields is a whole sentence.
  if (issue.code === 'custom' && path.length === 0) return [message]
  const found = path.reduce<unknown>((value, key) => (value as Record<PropertyKey, unknown>)?.[key], root)
  const place = path.length === 0 ? what : placeOf(path)
  if (found === undefined)
    return [issue.code === 'invalid_value' ? `${place} is missing: ${message}` : `${place} is missing`]
  if (issue.code === 'too_big' && typeof found === 'string')
    return [`${place} ${message} (this one has ${[...found].length})`]
  return [`${place} ${message} (found ${shown(found)})`]
}

const placeOf = (path: readonly PropertyKey[]): string => path.map(key => tame(String(key).slice(0, 40))).join('.')
