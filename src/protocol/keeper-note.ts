import { fields, LONGEST, oneOf, parse, time, words } from './parts.ts'

/** State of the keeper; times are ISO 8601 UTC with milliseconds. */
export interface KeeperNote {
  readonly v: 1
  readonly state: 'live' | 'gone' | 'broken'
  /** The keeper's clock at its last beat. */
  readonly beat: string
  /** Start of the present state. */
  readonly since: string
  readonly problem?: string
}

/** The keeper's state from `keeper`; undefined when it does not fit. */
export function parseKeeper(text: string): KeeperNote | undefined {
  const bag = parse(text, LONGEST.other)
  const [state, beat, since] = [oneOf(['live', 'gone', 'broken'], bag?.state), time(bag?.beat), time(bag?.since)]
  if (!state || !beat || !since) return undefined
  return fields<KeeperNote>({ v: 1, state, beat, since, problem: words(bag?.problem) })
}
