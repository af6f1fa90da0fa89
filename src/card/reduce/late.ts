/** What came late: entries that a page had not kept when it was left, or that were heard beside the page that keeps. */

import { WINDOW } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import { DAY } from '../../text/time.ts'

/** The same word comes to two pages within this. */
const SAME_MILLISECONDS = 2_000

const isSame = (a: Entry, b: Entry): boolean =>
  a.id === b.id || (a.what === b.what && Math.abs(Date.parse(a.at) - Date.parse(b.at)) < SAME_MILLISECONDS)

type Window = readonly { readonly entry: Entry }[]

/** Those that a tally has not counted yet, each once. */
export function newTo(windowOf: (mark: string) => Window, late: readonly Entry[]): readonly Entry[] {
  const taken: Entry[] = []
  for (const entry of late) {
    const isTaken = taken.some(each => each.mark === entry.mark && isSame(each, entry))
    if (!isTaken && isNewTo(windowOf(entry.mark), entry)) taken.push(entry)
  }
  return taken
}

/** Of what is older than all it remembers a tally cannot tell, and keeps its count. */
const isNewTo = (window: Window, late: Entry): boolean =>
  !window.some(({ entry }) => isSame(entry, late)) &&
  !(window.length >= WINDOW && Date.parse(late.at) < Date.parse(window[0]!.entry.at))

/** How far back the page that keeps the tally may have heard nothing before it went, and how many words that are at most. */
const UNKEPT_MILLISECONDS = DAY
const MOST_UNKEPT = 1_000

/** Adds what was heard while another page kept the tally. */
export function addUnkept(unkept: readonly Entry[], entries: readonly Entry[]): readonly Entry[] {
  if (entries.length === 0) return unkept
  const all = [...unkept, ...entries]
  return all.length > 2 * MOST_UNKEPT ? all.slice(-MOST_UNKEPT) : all
}

/** Of that what the page which kept the tally may not have kept. */
export const recentUnkept = (unkept: readonly Entry[], now: number): readonly Entry[] =>
  unkept.slice(-MOST_UNKEPT).filter(({ at }) => Date.parse(at) > now - UNKEPT_MILLISECONDS)
