import { policyOf } from '../../house/policy.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import type { EntryFilter } from './entry-filter.ts'
import { ledgerRules, ledgerToRead } from './rules.ts'
import { TallyStore } from './store.ts'

/** A keeper's tally that is open to be read. */
export interface StoredTally {
  /** Number of entries, retained copies and notes included. */
  readonly length: number
  /** Entries in the order of their commit. */
  entries(only?: EntryFilter): Iterable<Entry>
  /** What all entries add up to under the register: what `read`, `headlineOf` and `forecastOf` take. */
  ledger(): Ledger
  close(): Promise<void>
}

/**
 * Opens the tally of a folder without changing it, also while its keeper runs.
 * @param register - of today: its rules count, and its `was` gives earlier marks their openings
 * @throws StoreProblem when there is none, or it cannot be read
 * @example
 * import { parseRegister, read } from 'sashtally'
 * import { openTally, StoreProblem } from 'sashtally/keeper'
 *
 * const { register } = parseRegister(`
 * house: Ropewalk Studios
 * timezone: Europe/Lisbon
 * senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
 * openings: [{ mark: W07, name: Rope loft, sender: coin }]
 * `)
 * if (!register) throw new Error('the register has problems')
 * let said = ''
 * try {
 *   const tally = openTally('/var/lib/ropewalk', register)
 *   for (const { mark, position } of read(tally.ledger(), Date.now())) said += `${mark} ${position}, `
 *   for (const { at, what } of tally.entries({ marks: ['W07'], sinceMs: Date.now() - 86_400_000 })) said += `${at} ${what}, `
 *   await tally.close()
 * } catch (error) {
 *   if (!(error instanceof StoreProblem)) throw error
 *   said = error.message
 * }
 * console.log(said) // /var/lib/ropewalk/tally.sqlite: there is no tally here yet
 */
export function openTally(folder: string, register: Register): StoredTally {
  const policy = policyOf(register)
  const store = TallyStore.open(folder, 'read', ledgerRules(policy))
  return {
    length: store.length,
    entries: only => store.entries(only),
    ledger: () => ledgerToRead(store, policy),
    close: () => store.close(),
  }
}
