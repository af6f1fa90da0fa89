import { fields, LONGEST, parse, words } from './parts.ts'

/** The keeper's answer to a say. */
export interface HeardNote {
  readonly v: 1
  readonly ok: boolean
  readonly problem?: string
}

/** The keeper's answer from `heard/<id>`; undefined when it does not fit. */
export function parseHeard(text: string): HeardNote | undefined {
  const bag = parse(text, LONGEST.other)
  if (typeof bag?.ok !== 'boolean') return undefined
  return fields<HeardNote>({ v: 1, ok: bag.ok, problem: words(bag.problem) })
}
