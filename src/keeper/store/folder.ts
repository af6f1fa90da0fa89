import type { Ledger } from '../../ledger/apply.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import { turnOf } from '../turns.ts'
import { takeLock } from './lock.ts'
import { ledgerRules } from './rules.ts'
import { TallyStore } from './store.ts'

/** A folder to be written in. */
export interface OwnFolder {
  readonly folder: string
  /** Shown to whoever finds the folder taken. */
  readonly startedIso: string
  /** How entries count, where they are counted. */
  readonly policy: HousePolicy
}

/**
 * Takes a folder for this process alone, opens its tally to write in it, made if it is not there, and closes both after
 * `work`.
 * @param before - runs when the folder is this process's own, and before a tally is made
 * @throws StoreProblem when it cannot be written, or a keeper is at work there
 */
export async function withFolder<T>(
  { folder, startedIso, policy }: OwnFolder,
  work: (store: TallyStore<Ledger>) => T | Promise<T>,
  before?: () => Promise<void>,
): Promise<T> {
  const lock = takeLock(folder, startedIso)
  try {
    await before?.()
    const store = await turnOf(() => TallyStore.open(folder, 'write', ledgerRules(policy)))
    try {
      return await work(store)
    } finally {
      await store.close()
    }
  } finally {
    lock.release()
  }
}
