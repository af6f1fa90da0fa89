/** What of a value from outside fits its schema. */
import type * as z from 'zod/mini'
import { parseJson } from '../text/parse-json.ts'

interface Def {
  readonly type: string
  readonly shape?: Readonly<Record<PropertyKey, z.core.$ZodType>>
  readonly element?: z.core.$ZodType
  readonly items?: readonly z.core.$ZodType[]
  readonly innerType?: z.core.$ZodType
}
const defOf = (schema: z.core.$ZodType): Def => schema._zod.def as unknown as Def
const isOptional = (schema: z.core.$ZodType | undefined): boolean =>
  schema !== undefined && defOf(schema).type === 'optional'

/** The schema of what a key leads to. */
function inside(schema: z.core.$ZodType, key: PropertyKey): z.core.$ZodType | undefined {
  const { shape, element, items, innerType } = defOf(schema)
  if (innerType) return inside(innerType, key)
  if (shape) return Object.hasOwn(shape, key) ? shape[key] : undefined
  return element ?? items?.[Number(key)]
}

/** What is done to a part of a value, and to the parts of it. */
interface Edit {
  isOut?: true
  /** Longest that it may be. */
  length?: number
  readonly parts: Map<PropertyKey, Edit>
}

function editAt(root: Edit, path: readonly PropertyKey[]): Edit {
  let edit = root
  for (const key of path) {
    let next = edit.parts.get(key)
    if (!next) {
      next = { parts: new Map() }
      edit.parts.set(key, next)
    }
    edit = next
  }
  return edit
}

/** Adds what makes up for one problem; false where nothing does. */
function mend(schema: z.core.$ZodType, issue: z.core.$ZodIssue, edits: Edit): boolean {
  const { path } = issue
  if (issue.code === 'unrecognized_keys') {
    for (const key of issue.keys) editAt(edits, [...path, key]).isOut = true
    return true
  }
  let [part, absentable]: [z.core.$ZodType | undefined, number] = [schema, 0]
  path.forEach((key, index) => {
    part = part && inside(part, key)
    if (isOptional(part)) absentable = index + 1
  })
  const mayBeCut = issue.code === 'too_big' && (issue.origin === 'string' || (part && isOptional(inside(part, 0))))
  if (mayBeCut) editAt(edits, path).length = Number(issue.maximum)
  else if (absentable > 0) editAt(edits, path.slice(0, absentable)).isOut = true
  return mayBeCut || absentable > 0
}

/** A copy of the value; texts are cut by characters, as schemas measure them: no half of a surrogate pair is left. */
function edited(value: unknown, { length, parts }: Edit): unknown {
  if (typeof value === 'string') return [...value.slice(0, 2 * (length ?? 0))].slice(0, length).join('')
  const keep = ([key, part]: readonly [PropertyKey, unknown]): [PropertyKey, unknown][] => {
    const edit = parts.get(key)
    return edit?.isOut ? [] : [[key, edit ? edited(part, edit) : part]]
  }
  if (!Array.isArray(value)) return Object.fromEntries(Object.entries(value as object).flatMap(keep))
  return [...value.slice(0, length).entries()].flatMap(keep).map(([, part]) => part)
}

/** Once what may be absent is left out, rules between fields are looked at, which may leave out more. */
const MOST_TURNS = 4

/**
 * The value as the schema has it. Unknown keys are dropped, too long a text or list is cut, and of what does not fit
 * the nearest part around it that may be absent is left out.
 * @returns undefined where something does not fit that may not be absent
 */
export function fitting<T>(schema: z.ZodMiniType<T>, value: unknown): T | undefined {
  let given = value
  for (let turn = 0; turn < MOST_TURNS; turn++) {
    const result = schema.safeParse(given)
    if (result.success) return result.data
    const edits: Edit = { parts: new Map() }
    if (!result.error.issues.every(issue => mend(schema, issue, edits))) return undefined
    given = edited(given, edits)
  }
  return undefined
}

/** Longest payload, in UTF-16 code units: of the register, and of every other topic. */
export const LONGEST = { register: 4_000_000, other: 16_384 } as const

/** What of a JSON text fits; undefined also for a text that is too long or no JSON. Never throws. */
export const fittingJson = <T>(
  schema: z.ZodMiniType<T>,
  text: string,
  longest: number = LONGEST.other,
): T | undefined => (text.length > longest ? undefined : fitting(schema, parseJson(text)))
