import type { Opening, Register } from '../../register/types.ts'
import { pointerUnder } from '../../text/json-pointer.ts'
import { firstOf } from '../../text/lists.ts'
import type { Problem } from '../../text/problem.ts'
import type { Emitted } from '../emitted.ts'
import { fieldOf, filled, type Wire } from './fields.ts'
import type { Profile } from './profile.ts'
import { blockLines, type Entry } from './splice.ts'
import { isList, isValueMap, type Scalar, scalarsOf, type Value } from './value.ts'

export interface HubOptions {
  readonly profile: Profile
  readonly wire: Wire
  /** Marks whose entry the person keeps by hand. */
  readonly leaveOut?: ReadonlySet<string>
}

const LEFT = Symbol('left out')

/**
 * One entry for every opening, as the profile says.
 * A field that an opening lacks leaves its key out; `remarks` lists which.
 */
export function hubEntries(
  register: Register,
  { profile, wire, leaveOut }: HubOptions,
): { entries: readonly Entry[]; problems: readonly Problem[]; remarks: readonly string[] } {
  const entries: Entry[] = []
  const problems: Problem[] = []
  const lacking = new Map<string, string[]>()
  const byKey = new Map<Scalar, string>()
  const json: string[] = []
  for (const opening of register.openings) {
    if (leaveOut?.has(opening.mark)) continue
    const lacks = (pointer: string, field: string) => {
      const slot = `${field}\n${pointer}`
      const marks = lacking.get(slot)
      if (marks) marks.push(opening.mark)
      else lacking.set(slot, [opening.mark])
    }
    if (opening.sender.json && wire === 'contact') json.push(opening.mark)
    const value = fillIn(profile.entry, '') as Value
    if (!profile.key) {
      entries.push({ mark: opening.mark, value })
      continue
    }
    const key = filled(opening, profile.key, register, wire)
    const twin = key === undefined ? undefined : byKey.get(key)
    if (key === undefined)
      problems.push(
        at(
          opening,
          'no-key',
          `${opening.mark} has no ${profile.key.field}, which makes the key of its entry: give it one, or choose another field for the key`,
        ),
      )
    else if (twin !== undefined)
      problems.push(
        at(
          opening,
          'key-twice',
          `${twin} and ${opening.mark} would both have the key ${JSON.stringify(key)}: choose a field for the key that no two openings share, such as mark`,
        ),
      )
    else {
      byKey.set(key, opening.mark)
      entries.push({ mark: opening.mark, key, value })
    }

    function fillIn(held: Value, pointer: string): Value | typeof LEFT {
      const filling = profile.fill.get(pointer)
      if (filling) {
        const found = filled(opening, filling, register, wire)
        if (found !== undefined) return found
        lacks(pointer, filling.field)
        return LEFT
      }
      if (isList(held))
        return held
          .map((item, index) => fillIn(item, pointerUnder(pointer, index)))
          .filter(item => item !== LEFT) as Value[]
      if (!isValueMap(held)) return held
      const made = new Map<Scalar, Value>()
      for (const [name, inner] of held) {
        const found = fillIn(inner, pointerUnder(pointer, name))
        if (found !== LEFT) made.set(name, found as Value)
      }
      return made
    }
  }
  const remarks = [...lacking].map(([slot, marks]) => {
    const [field, pointer] = slot.split('\n') as [string, string]
    return `No ${field}, so ${pointer} is left out: ${someOf(marks)}`
  })
  if (json.length)
    remarks.push(
      `These contacts send JSON, and a hub that compares whole payloads will not find the words in it: ${someOf(json)}. Let the hub take the word out of the JSON, or use --wire tally`,
    )
  return { entries, problems, remarks: [...remarks, ...sharedConstants(register, profile, wire)] }
}

/** Up to twenty of many. */
export const someOf = (all: readonly string[]): string => firstOf(all, 20)

const at = (opening: Opening, code: string, message: string): Problem => ({
  code,
  severity: 'error',
  line: opening.line,
  column: 1,
  length: 1,
  path: '',
  message,
})

/** Constants of the entry that are one opening's own topic or client id: every opening would share them. */
function* sharedConstants(register: Register, profile: Profile, wire: Wire): Generator<string> {
  const owners = new Map<Scalar, string>()
  for (const opening of register.openings) {
    for (const field of ['topic', 'client'] as const) owners.set(fieldOf(opening, field, register, wire)!, opening.mark)
  }
  for (const [pointer, value] of scalarsOf(profile.entry)) {
    const owner = typeof value === 'string' && !profile.fill.has(pointer) ? owners.get(value) : undefined
    if (owner !== undefined)
      yield `${pointer} is ${JSON.stringify(value)} in every entry, and that belongs to ${owner}: fill it, or check the profile`
  }
}

/** Entries for the person's own hub, between the two markers, to be pasted as they are. */
export function hub(register: Register, options: HubOptions): Emitted {
  const { entries, problems, remarks } = hubEntries(register, options)
  if (problems.length) return { problems, remarks }
  return { text: `${blockLines(entries, options.profile.as, register.tally).join('\n')}\n`, problems, remarks }
}
