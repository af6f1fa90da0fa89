/** What this tablet keeps beside the tally. A page without storage has nothing, and keeps nothing. */
import { type Deaf, parseDeaf } from '../../house/deaf.ts'
import type { Entry } from '../../protocol/entry.ts'
import { entriesIn, topicsIn } from '../state/kept.ts'
import { type Memory, NAMES } from '../state/memory.ts'

export const recall = (tally: string, house: string): Memory => ({
  listened: read(NAMES.listened(tally)),
  keeper: read(NAMES.keeper(house)),
  walk: read(NAMES.walk(house), true),
  report: read(NAMES.walk(house)),
})

/** @param text - undefined: to be forgotten. @param inPage - in this page alone */
export function remember(name: string, text: string | undefined, inPage = false): void {
  try {
    const storage = storageOf(inPage)
    if (text === undefined) storage.removeItem(name)
    else storage.setItem(name, text)
  } catch {
    // Without storage all that lasts until the next reload.
  }
}

export const recallListened = (tally: string): string | undefined => read(NAMES.listened(tally))

export const recallDeaf = (tally: string): readonly Deaf[] | undefined => parseDeaf(read(NAMES.deaf(tally)) ?? '')

/** Topics of the contacts that were listened to last; undefined: nobody knows. */
export const recallTopics = (tally: string): readonly string[] | undefined => topicsIn(read(NAMES.topics(tally)))

/** Puts entries by that the store may not take in time before the page ends. */
export function saveLate(tally: string, entries: readonly Entry[]): void {
  if (entries.length > 0) remember(NAMES.late(tally), JSON.stringify(entries))
}

/** What was put by, once: after that nothing is. */
export function takeLate(tally: string): readonly Entry[] {
  const kept = entriesIn(read(NAMES.late(tally)))
  remember(NAMES.late(tally), undefined)
  return kept
}

const storageOf = (inPage: boolean): Storage => globalThis[inPage ? 'sessionStorage' : 'localStorage']

function read(name: string, inPage = false): string | undefined {
  try {
    return storageOf(inPage).getItem(name) ?? undefined
  } catch {
    return undefined
  }
}
