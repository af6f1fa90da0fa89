import type { Opening, Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import type { Scalar } from '../../text/yaml-value.ts'
import type { Emitted } from '../emitted.ts'
import { constantFaults, type Lenience } from './constants.ts'
import { entryMaker } from './entry-maker.ts'
import { EntryNotes } from './entry-notes.ts'
import { fieldsOf, filled } from './filling.ts'
import { type Recipe, recipeLines } from './kept-profile.ts'
import { blockLines, type HubEntry } from './splice.ts'

export interface HubOptions extends Recipe, Lenience {
  /** Marks whose entry the person keeps by hand. */
  readonly leaveOut?: ReadonlySet<string>
}

/** One entry for every opening, as the profile says; problems stand in lines of the register. */
export function hubEntries(
  register: Register,
  { profile, wire, leaveOut, ...lenience }: HubOptions,
): { entries: readonly HubEntry[]; problems: readonly Problem[]; notes: EntryNotes } {
  const entries: HubEntry[] = []
  const problems: Problem[] = [...constantFaults(register, { profile, wire }, lenience)].map(
    ({ owner, code, message }) => at(owner, code, message),
  )
  const notes = new EntryNotes({ profile, wire })
  const taken = new Map<string, Map<string, string>>()
  /** Another opening that has the same text where each needs its own. */
  const twinOf = (place: string, made: Scalar, mark: string): string | undefined => {
    const held = taken.get(place) ?? new Map<string, string>()
    taken.set(place, held)
    const twin = held.get(String(made))
    if (twin === undefined) held.set(String(made), mark)
    return twin
  }
  // Topics are each opening's own: only beside other fields may two texts be the same.
  const topicPlaces = [...profile.fill].filter(
    ([, filling]) => filling && fieldsOf(filling).length > 1 && fieldsOf(filling).includes('topic'),
  )
  const make = entryMaker({ profile, wire }, register)
  for (const opening of register.openings) {
    const { mark } = opening
    notes.labelled(opening, register)
    if (leaveOut?.has(mark)) continue
    const value = make(opening, pointer => notes.lacks(mark, pointer))
    notes.made(opening)
    for (const [place, filling] of topicPlaces) {
      const made = filled(opening, filling!, register, wire)
      const twin = made === undefined ? undefined : twinOf(place, made, mark)
      if (twin !== undefined)
        problems.push(
          at(
            opening,
            'topic-twice',
            `${twin} and ${mark} would both have ${JSON.stringify(made)} at ${place}, and a hub could not tell them apart: fill it with parts that no two openings share`,
          ),
        )
    }
    if (!profile.key) {
      entries.push({ mark, value })
      continue
    }
    const key = filled(opening, profile.key, register, wire)
    const twin = key === undefined ? undefined : twinOf('key', key, mark)
    if (key === undefined)
      problems.push(
        at(
          opening,
          'no-key',
          `${mark} lacks one of ${fieldsOf(profile.key).join(', ')}, which make the key of its entry: give it one, or choose another field for the key`,
        ),
      )
    else if (twin !== undefined)
      problems.push(
        at(
          opening,
          'key-twice',
          `${twin} and ${mark} would both have the key ${JSON.stringify(key)}: choose a field for the key that no two openings share, such as mark`,
        ),
      )
    else entries.push({ mark, key, value })
  }
  return { entries, problems, notes }
}

const at = (opening: Opening, code: string, message: string): Problem => ({
  code,
  severity: 'error',
  line: opening.line,
  column: 1,
  length: 1,
  path: '',
  message,
})

/** Entries for the person's own hub, between the two markers, to be pasted as they are. */
export function hub(register: Register, options: HubOptions): Emitted {
  const { entries, problems, notes } = hubEntries(register, options)
  if (problems.length) return { problems, remarks: notes.sentences() }
  const lines = blockLines({ as: options.profile.as, tally: register.tally, recipe: recipeLines(options), entries })
  return { text: `${lines.join('\n')}\n`, problems, remarks: notes.sentences() }
}
