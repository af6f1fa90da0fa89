import { fieldOf } from '../../emit/hub/field-values.ts'
import type { HubFile } from '../../emit/hub/hub-file.ts'
import { type Recipe, readRecipe } from '../../emit/hub/kept-profile.ts'
import { learn } from '../../emit/hub/learn.ts'
import { type Profile, parseProfile, placesOf } from '../../emit/hub/profile.ts'
import { withSettled } from '../../emit/hub/settled.ts'
import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { readText } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { tellProblems } from './emit-deliver.ts'
import type { Asked } from './emit-hub-asked.ts'

/** What the entries are made from, and how that was found. */
export interface Source extends Recipe {
  /** The opening from whose entry the profile was learned just now. */
  readonly learnedFrom?: Opening
  readonly remarks: readonly string[]
  readonly settled: ReadonlySet<string>
  readonly everyWord: boolean
}

export interface Hubs {
  /** The file that the entries go into. */
  readonly into?: HubFile | undefined
  /** The file with the entry written by hand. */
  readonly like?: HubFile | undefined
}

/**
 * The profile and the wire: from a profile file, from an entry written by hand, or from the block's own lines.
 * @returns undefined when problems were told
 * @throws Stop when there is nothing to make the entries from, or a field of the block's profile got lost
 */
export async function sourceOf(
  asked: Asked,
  register: Register,
  opening: Opening | undefined,
  { into, like }: Hubs,
  world: World,
): Promise<Source | undefined> {
  const reference = into ?? like
  const held =
    reference?.block && readRecipe(reference.text.slice(reference.block.from, reference.block.to), register.tally)
  const kept = held?.recipe
  const wire = asked.wire ?? kept?.wire ?? 'contact'
  const settled = new Set(asked.fill.keys())
  const source = { wire, settled, everyWord: false, remarks: [] }

  if (asked.profile !== undefined) {
    const text = await readText(asked.profile, world)
    const { profile, problems, remarks } = parseProfile(text)
    tellProblems(problems, text, asked.profile, world)
    return profile && { ...source, profile, remarks }
  }
  if (asked.like !== undefined) {
    if (!like || !opening) return undefined
    const { profile, problems, remarks, isFound } = learn(like, register, opening, {
      wire,
      fill: asked.fill,
      blockPlace: kept?.profile.place,
    })
    if (profile) {
      if (kept) refuseLost(kept.profile, profile, { asked, opening, register })
      return { ...source, profile, remarks, learnedFrom: opening }
    }
    // Its entry may be in the block by now.
    if (isFound || !kept) {
      tellProblems(problems, like.text, asked.like, world)
      return undefined
    }
  }
  const file = asked.into ?? asked.like
  if (held?.fault !== undefined)
    throw new Stop(
      EXIT.input,
      `The comment lines of the block in ${file} do not hold its profile any more (${held.fault}): give --like with --mark, or --profile`,
    )
  if (!kept)
    throw new Stop(
      EXIT.usage,
      `${file} holds no block of this tally that keeps its profile: give --like with --mark, or --profile`,
    )
  const { profile, faults } = withSettled(kept.profile, asked.fill)
  if (!profile) throw new Stop(EXIT.input, faults.join('\nsashtally: '))
  return { ...source, profile, everyWord: wire !== kept.wire }
}

/** @throws Stop when the entry holds a field no more that the block's profile fills, by name, wherever it stands */
function refuseLost(
  kept: Profile,
  learned: Profile,
  { asked, opening, register }: { asked: Asked; opening: Opening; register: Register },
): void {
  const found = placesOf(learned)
  const lost = [...placesOf(kept)].filter(
    ([field, places]) => !found.has(field) && !places.every(place => asked.fill.has(place)),
  )
  if (lost.length === 0) return
  const { mark } = opening
  const list = lost.map(([field, places]) => {
    const now = shown(fieldOf(opening, field, register, asked.wire ?? 'contact') ?? 'nothing')
    return `its ${field} (${now}; in the block at ${places.join(', ')})`
  })
  const file = asked.into ?? asked.like
  throw new Stop(
    EXIT.input,
    `The entry written by hand for ${mark} does not hold ${list.join(' and ')} any more, so every entry would get what stands there now; nothing is written.
After an edit of the register the block is made again from its own profile: sashtally emit hub ${asked.register} --into ${file}
Or bring the entry up to date by hand, or settle it with ${lost.map(([field, [place]]) => `--fill ${place}=${field}`).join(' ')}`,
  )
}
