import { pointerUnder } from '../../text/json-pointer.ts'
import { isList, isValueMap, scalarsOf, type Value, type ValueMap } from '../../text/yaml-value.ts'
import { WIRES, type Wire } from './field-names.ts'
import { markersOf } from './markers.ts'
import { type Profile, parseProfile, profileLines } from './profile.ts'

/** What a block is made from: it stands in the block's own comment lines. */
export interface Recipe {
  readonly profile: Profile
  readonly wire: Wire
}

/** Comment lines that `readRecipe` reads back; nothing in them is one opening's own. */
export const recipeLines = ({ profile, wire }: Recipe): string[] =>
  [`wire: ${wire}`, ...profileLines(plainProfile(profile))].map(line => `# ${line}`)

/** The profile without what it learned from: empty text where something is filled, the fillings in the entry's order. */
function plainProfile(profile: Profile): Profile {
  const blank = (held: Value, pointer: string): Value => {
    if (profile.fill.get(pointer)) return ''
    if (isList(held)) return held.map((item, index) => blank(item, pointerUnder(pointer, index)))
    if (!isValueMap(held)) return held
    return new Map([...held].map(([key, inner]) => [key, blank(inner, pointerUnder(pointer, key))]))
  }
  const inOrder = [...scalarsOf(profile.entry)].flatMap(([pointer]) => {
    const filling = profile.fill.get(pointer)
    return filling === undefined ? [] : [[pointer, filling] as const]
  })
  return { ...profile, entry: blank(profile.entry, '') as ValueMap, fill: new Map(inOrder) }
}

/**
 * What the comment lines of a block say it is made from.
 * @returns undefined for a block without such lines; `fault` says why they cannot be read
 */
export function readRecipe(block: string, tally: string): { recipe?: Recipe; fault?: string } | undefined {
  const { begin } = markersOf(tally)
  const lines = block.split(/\r?\n/).map(line => line.trim())
  const head: string[] = []
  for (const line of lines.slice(lines.indexOf(begin) + 1)) {
    if (!line.startsWith('#') || line === markersOf(tally).end) break
    head.push(line)
  }
  const [first, ...rest] = head.map(line => line.replace(/^# ?/, ''))
  if (first === undefined) return undefined
  const wire = WIRES.find(one => first === `wire: ${one}`)
  const { profile, problems } = parseProfile(rest.join('\n'))
  if (wire && profile) return { recipe: { profile, wire } }
  return { fault: wire ? problems[0]!.message : `The first line is ${WIRES.map(one => `# wire: ${one}`).join(' or ')}` }
}
