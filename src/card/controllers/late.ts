/** What a page heard and had not kept when it was left. A database may not be asked in time; local storage is. */
import type { Entry } from '../../ledger/types.ts'

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

export const isSame = (a: Entry, b: Entry): boolean =>
  a.id === b.id || (a.what === b.what && Math.abs(Date.parse(a.at) - Date.parse(b.at)) < SAME_MILLISECONDS)

/** A store that does not answer by then is gone without. */
const STORE_MILLISECONDS = 4_000

export const inTime = <T>(job: Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error('the store did not answer in time')), STORE_MILLISECONDS)
    job.then(done, failed).finally(() => clearTimeout(timer))
  })
