/** What this tablet keeps beside the tally. A page without storage has nothing, and keeps nothing. */
import { type Deaf, parseDeaf } from '../../house/deaf.ts'
import type { Entry } from '../../protocol/entry.ts'
import { entriesIn, topicsIn } from '../state/kept.ts'
import { type Memory, NAMES } from '../state/memory.ts'

/** What an earlier version kept by the tally alone is read where the house has nothing of its own. */
export function recall(tally: string, house: string): Memory {
  const either = (storage: 'localStorage' | 'sessionStorage', name: (of: string) => string) =>
    read(storage, name(house)) ?? read(storage, name(tally))
  return {
    listened: read('localStorage', NAMES.listened(tally)),
    keeper: either('localStorage', NAMES.keeper),
    walk: either('sessionStorage', NAMES.walk),
    report: either('localStorage', NAMES.walk),
  }
}

/** @param text - undefined: to be forgotten. @param inPage - in this page alone */
export function remember(name: string, text: string | undefined, inPage = false): void {
  try {
    const storage = globalThis[inPage ? 'sessionStorage' : 'localStorage']
    if (text === undefined) storage.removeItem(name)
    else storage.setItem(name, text)
  } catch {
    // Without storage all that lasts until the next reload.
  }
}

export const recallListened = (tally: string): string | undefined => read('localStorage', NAMES.listened(tally))

export const recallDeaf = (tally: string): readonly Deaf[] | undefined =>
  parseDeaf(read('localStorage', NAMES.deaf(tally)) ?? '')

/** Topics of the contacts that were listened to last; undefined: nobody knows. */
export const recallTopics = (tally: string): readonly string[] | undefined =>
  topicsIn(read('localStorage', NAMES.topics(tally)))

/** Puts entries by that the store may not take in time before the page ends. */
export function saveLate(tally: string, entries: readonly Entry[]): void {
  if (entries.length > 0) remember(NAMES.late(tally), JSON.stringify(entries))
}

/** What was put by, once: after that nothing is. */
export function takeLate(tally: string): readonly Entry[] {
  const kept = entriesIn(read('localStorage', NAMES.late(tally)))
  remember(NAMES.late(tally), undefined)
  return kept
}

function read(storage: 'localStorage' | 'sessionStorage', name: string): string | undefined {
  try {
    return globalThis[storage].getItem(name) ?? undefined
  } catch {
    return undefined
  }
}
