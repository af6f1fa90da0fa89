import { entryMaker } from '../../emit/hub/entry-maker.ts'
import { filled } from '../../emit/hub/filling.ts'
import type { HubFile } from '../../emit/hub/hub-file.ts'
import { type ByHand, keptByHand } from '../../emit/hub/kept-by-hand.ts'
import { withoutEntries } from '../../emit/hub/take-over.ts'
import type { Register } from '../../register/types.ts'
import { differences, isSameData } from '../../text/yaml-value.ts'
import { EXIT, Stop } from '../world.ts'
import type { Source } from './emit-hub-recipe.ts'

/** An entry that the person keeps by hand, beside the one that would be made. */
export interface HandKept {
  readonly mark: string
  /** 0 where it cannot be told. */
  readonly line: number
  /** Pointers at which it differs from the made one, `key` for its key; empty when it is the same. */
  readonly differs: readonly string[]
  readonly entry?: ByHand
}

/** Entries kept by hand; `isModelIn`: the entry that the profile was learned from stands in this file. */
export function handKept(hub: HubFile, register: Register, source: Source, isModelIn: boolean): HandKept[] {
  const make = entryMaker(source, register)
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  const kept = keptByHand(hub, source.profile, register).map((entry): HandKept => {
    const opening = openings.get(entry.mark)!
    const made = make(opening)
    const value = entry.read()
    const key = source.profile.key && filled(opening, source.profile.key, register, source.wire)
    const differs = value === undefined ? ['the whole'] : isSameData(value, made) ? [] : differences(value, made)
    return { mark: entry.mark, line: entry.line, differs: key === entry.key ? differs : ['key', ...differs], entry }
  })
  const model = source.learnedFrom?.mark
  if (model !== undefined && isModelIn && !kept.some(({ mark }) => mark === model))
    kept.push({ mark: model, line: 0, differs: ['the whole'] })
  return kept
}

/**
 * The hub's file without the entries that are the same as the made ones, and those that stay by hand.
 * @throws Stop exit 1 when none of them is
 */
export function takenOver(
  hub: HubFile,
  register: Register,
  source: Source,
  byHand: readonly HandKept[],
): { hub: HubFile; byHand: readonly HandKept[] } {
  const same = byHand.filter(({ differs, entry }) => differs.length === 0 && entry)
  if (same.length === 0 && byHand.length > 0)
    throw new Stop(
      EXIT.input,
      `No entry is taken over, since those written by hand are not the same as the made ones, and nothing is written: ${byHand.map(handText).join('; ')}`,
    )
  if (same.length === 0) return { hub, byHand }
  const without = withoutEntries(
    hub,
    source.profile,
    same.map(({ entry }) => entry!.item),
    register.tally,
  )
  if (!without)
    throw new Stop(
      EXIT.input,
      `The entries for ${same.map(({ mark, line }) => `${mark} (line ${line})`).join(', ')} cannot be taken out of the file without a change to something else, such as an anchor in them that is repeated elsewhere: nothing is written`,
    )
  return { hub: without, byHand: byHand.filter(each => !same.includes(each)) }
}

/** `W01 (line 5, differs at /heading)` */
export const handText = ({ mark, line, differs }: HandKept): string => {
  const inside = [
    ...(line ? [`line ${line}`] : []),
    ...(differs.length ? [`differs at ${differs.slice(0, 4).join(', ')}${differs.length > 4 ? ' and more' : ''}`] : []),
  ]
  return inside.length ? `${mark} (${inside.join(', ')})` : mark
}
