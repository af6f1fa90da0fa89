import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { policyOf } from '../../house/policy.ts'
import { factIn } from '../../keeper/store/facts.ts'
import { ledgerRules, ledgerToRead } from '../../keeper/store/rules.ts'
import { TALLY_FILE } from '../../keeper/store/schema.ts'
import { TallyStore } from '../../keeper/store/store.ts'
import { storeProblem } from '../../keeper/store/store-problem.ts'
import { applyAll, type Ledger, startLedger } from '../../ledger/apply.ts'
import { missedNotes } from '../../ledger/missed.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import type { World } from '../world.ts'
import { withStoreProblems } from './problems.ts'
import { readTallyFile } from './tally-file.ts'
import type { TallyPath } from './tally-path.ts'

/** A tally that is open to be read. */
export interface Tally {
  /** Must not be closed or written. */
  readonly store: TallyStore<Ledger>
  /** Entries of a time or later, milliseconds since the epoch, in the order of their commit. */
  since(milliseconds: number): Iterable<Entry>
  /**
   * What all entries add up to under the register of today. Of a keeper's folder only what its snapshot lacks is
   * counted, unless the register counts by other rules now.
   */
  ledger(): Ledger
}

export interface ReadOptions {
  /** A tally that is not there yet is an empty one. */
  readonly mayBeMissing?: boolean
}

/**
 * Opens a tally without changing it, also while its keeper runs, and closes it after `work`. A file becomes a store in
 * memory where one is asked for; its marks that the register does not know are told on stderr. Without a path the tally
 * is empty.
 * @throws Stop exit 1 when a line of the file is no entry, exit 3 when the tally cannot be read
 */
export async function readTally<T>(
  at: TallyPath | undefined,
  register: Register,
  world: World,
  work: (tally: Tally) => T | Promise<T>,
  options: ReadOptions = {},
): Promise<T> {
  return withStoreProblems(async () => {
    const tally = await openTally(at, register, world, options)
    try {
      return await work(tally)
    } catch (error) {
      throw at?.kind === 'folder' ? storeProblem(error, join(at.path, TALLY_FILE)) : error
    } finally {
      await tally.close()
    }
  })
}

async function openTally(
  at: TallyPath | undefined,
  register: Register,
  world: World,
  { mayBeMissing = false }: ReadOptions,
): Promise<Tally & { close(): Promise<void> | undefined }> {
  const policy = policyOf(register)
  const rules = ledgerRules(policy)
  if (at?.kind === 'folder') {
    const folder = resolve(world.cwd, at.path)
    if (!mayBeMissing || existsSync(join(folder, TALLY_FILE))) {
      const store = TallyStore.open(folder, 'read', rules)
      return {
        store,
        since: sinceMs => store.entries({ sinceMs }),
        ledger: () => sinceMended(store, ledgerToRead(store, policy), world.now()),
        close: () => store.close(),
      }
    }
  }
  const entries = at?.kind === 'file' ? await readTallyFile(at.path, world, { mayBeMissing }) : []
  if (at) tellStrangers(at.path, entries, register, world)
  let store: TallyStore<Ledger> | undefined
  return {
    get store() {
      store ??= TallyStore.inMemory(rules, entries)
      return store
    },
    since: milliseconds => entries.filter(({ at }) => Date.parse(at) >= milliseconds),
    ledger: () => applyAll(startLedger(policy), entries),
    close: () => store?.close(),
  }
}

/** Until a keeper has begun anew on a mended store, nobody knows what it lost: what was shut may have been opened since. */
function sinceMended(store: TallyStore<Ledger>, ledger: Ledger, now: number): Ledger {
  if (factIn(store, 'mended') !== 'yes') return ledger
  const gap = { marks: Object.keys(ledger.policy), to: now, heardAt: new Map<string, number>() }
  return applyAll(
    ledger,
    missedNotes(ledger, gap, now, mark => `mended-${mark}`),
  )
}

/** Tells which marks of a tally no opening has, or had, and how many entries each has; most first. */
function tellStrangers(path: string, entries: readonly Entry[], { openings }: Register, world: World): void {
  const known = new Set(openings.flatMap(({ mark, was }) => [mark, ...was]))
  const counts = new Map<string, number>()
  for (const { mark } of entries) if (!known.has(mark)) counts.set(mark, (counts.get(mark) ?? 0) + 1)
  const strangers = [...counts].sort(([, a], [, b]) => b - a)
  if (strangers.length === 0) return
  const some = strangers.slice(0, 10).map(([mark, count]) => `${mark} (${count})`)
  const more = strangers.length > 10 ? ` and ${strangers.length - 10} more` : ''
  const all = strangers.reduce((sum, [, count]) => sum + count, 0)
  world.stderr.write(
    `${path}: no opening of the register has the ${strangers.length === 1 ? 'mark' : 'marks'} ${some.join(', ')}${more}: ${all} ${all === 1 ? 'entry counts' : 'entries count'} for nothing (was: [...] gives an opening its earlier marks)\n`,
  )
}
