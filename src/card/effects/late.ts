/** What a page heard and had not kept when it was left. A database may not be asked in time; local storage is. */

import { WINDOW } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import { DAY } from '../../text/time.ts'

const keyOf = (house: string) => `sashtally late ${house}`

export function saveLate(house: string, entries: readonly Entry[]): void {
  try {
    if (entries.length > 0) localStorage.setItem(keyOf(house), JSON.stringify(entries))
  } catch {
    // Without storage the last words before a reload are lost.
  }
}

/** Once: they are not there any more. Unsound entries are left out when they are counted. */
export function takeLate(house: string): readonly Entry[] {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(keyOf(house)) ?? '[]')
    localStorage.removeItem(keyOf(house))
    return Array.isArray(kept) ? kept.filter(each => typeof each?.mark === 'string') : []
  } catch {
    return []
  }
}

/** The same word comes to two pages within this. */
const SAME_MILLISECONDS = 2_000

const isSame = (a: Entry, b: Entry): boolean =>
  a.id === b.id || (a.what === b.what && Math.abs(Date.parse(a.at) - Date.parse(b.at)) < SAME_MILLISECONDS)

/** Those that a tally has not counted yet, each once. */
export function newTo(
  windowOf: (mark: string) => readonly { readonly entry: Entry }[],
  late: readonly Entry[],
): readonly Entry[] {
  const taken: Entry[] = []
  for (const entry of late) {
    const isTaken = taken.some(each => each.mark === entry.mark && isSame(each, entry))
    if (!isTaken && isNewTo(windowOf(entry.mark), entry)) taken.push(entry)
  }
  return taken
}

/** Of what is older than all it remembers a tally cannot tell, and keeps its count. */
const isNewTo = (window: readonly { readonly entry: Entry }[], late: Entry): boolean =>
  !window.some(({ entry }) => isSame(entry, late)) &&
  !(window.length >= WINDOW && Date.parse(late.at) < Date.parse(window[0]!.entry.at))

/** How far back the page that keeps the tally may have been deaf before it went, and how many words that are at most. */
const BESIDE_MILLISECONDS = DAY
const MOST_BESIDE = 1_000

/** Heard while another page kept the tally: what that one may not have kept before it went. */
export class Beside {
  readonly #entries: Entry[] = []

  add(entry: Entry): void {
    this.#entries.push(entry)
    if (this.#entries.length > 2 * MOST_BESIDE) this.#entries.splice(0, MOST_BESIDE)
  }

  /** Once: they are not here any more. */
  take(now: number): readonly Entry[] {
    return this.#entries
      .splice(0)
      .slice(-MOST_BESIDE)
      .filter(({ at }) => Date.parse(at) > now - BESIDE_MILLISECONDS)
  }
}

/** A store that does not answer by then is gone without. */
const STORE_MILLISECONDS = 4_000

export const inTime = <T>(job: Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error('the store did not answer in time')), STORE_MILLISECONDS)
    job.then(done, failed).finally(() => clearTimeout(timer))
  })
