/** What this tablet keeps beside the tally. A page without storage has nothing, and keeps nothing. */
import type { Entry } from '../../protocol/entry.ts'
import { type Memory, NAMES } from '../state/memory.ts'

export function recall(tally: string): Memory {
  return {
    listened: read('localStorage', NAMES.listened(tally)),
    keeper: read('localStorage', NAMES.keeper(tally)),
    walk: read('sessionStorage', NAMES.walk(tally)),
    report: read('localStorage', NAMES.walk(tally)),
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

/** Topics of the contacts that were listened to last; undefined: nobody knows. */
export function recallTopics(tally: string): readonly string[] | undefined {
  const topics = parse(read('localStorage', NAMES.topics(tally)))
  return Array.isArray(topics) && topics.every(each => typeof each === 'string') ? topics : undefined
}

/** Puts entries by that the store may not take in time before the page ends. */
export function saveLate(tally: string, entries: readonly Entry[]): void {
  if (entries.length > 0) remember(NAMES.late(tally), JSON.stringify(entries))
}

/** Once: they are not there any more. Unsound entries are left out when they are counted. */
export function takeLate(tally: string): readonly Entry[] {
  const kept = parse(read('localStorage', NAMES.late(tally)))
  remember(NAMES.late(tally), undefined)
  return Array.isArray(kept) ? kept.filter(each => typeof each?.mark === 'string') : []
}

function read(storage: 'localStorage' | 'sessionStorage', name: string): string | undefined {
  try {
    return globalThis[storage].getItem(name) ?? undefined
  } catch {
    return undefined
  }
}

function parse(text: string | undefined): unknown {
  try {
    return JSON.parse(text ?? 'null')
  } catch {
    return undefined
  }
}
