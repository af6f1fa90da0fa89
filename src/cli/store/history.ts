import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { policyOf } from '../../house/policy.ts'
import { takeLock } from '../../keeper/lock.ts'
import { ledgerRules, mustRecount } from '../../keeper/rules.ts'
import { TALLY_FILE } from '../../keeper/schema.ts'
import { TallyStore } from '../../keeper/store.ts'
import { StoreProblem, storeProblem } from '../../keeper/store-problem.ts'
import { applyAll, type Ledger, startLedger, withPolicy } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { withStoreProblems } from './problems.ts'
import { appendTally, mustBeWritable, readTally } from './tally-file.ts'

/** Where a tally is: a file of one entry a line, or the folder of a keeper. */
export interface TallyPlaceOptions {
  readonly tally?: string | undefined
  readonly data?: string | undefined
}

/** The options that a command with a tally has. */
export const TALLY_OPTIONS = [
  { flags: '--tally <file>', text: 'the tally: one entry a line' },
  { flags: '--data <dir>', text: "the keeper's folder, in place of --tally" },
] as const

/** @throws Stop exit 2 when both are given */
export function tallyPlaceOf(options: Readonly<Record<string, unknown>>): TallyPlaceOptions {
  const [tally, data] = [options.tally, options.data].map(each => (typeof each === 'string' ? each : undefined))
  if (tally !== undefined && data !== undefined) throw new Stop(EXIT.usage, 'give --tally or --data, not both')
  return { tally, data }
}

/** Opens the keeper's tally without changing it, also while the keeper runs. */
export const openHistory = (data: string, register: Register | undefined, world: World): Promise<TallyStore<Ledger>> =>
  withStoreProblems(() =>
    TallyStore.open(resolve(world.cwd, data), 'read', ledgerRules(register ? policyOf(register) : {})),
  )

/** Reads from a store that was opened; what is wrong with the file becomes a sentence and exit 3. */
export const readingStore = <T>(folder: string, work: () => T | Promise<T>): Promise<T> =>
  withStoreProblems(async () => {
    try {
      return await work()
    } catch (error) {
      throw storeProblem(error, join(folder, TALLY_FILE))
    }
  })

/** Marks of a tally that no opening has, or had, with how many entries each has; most first. */
export function strangersIn(entries: readonly Entry[], { openings }: Register): [mark: string, entries: number][] {
  const known = new Set(openings.flatMap(({ mark, was }) => [mark, ...was]))
  const counts = new Map<string, number>()
  for (const { mark } of entries) if (!known.has(mark)) counts.set(mark, (counts.get(mark) ?? 0) + 1)
  return [...counts].sort(([, a], [, b]) => b - a)
}

function tellStrangers(path: string, entries: readonly Entry[], register: Register, world: World): void {
  const strangers = strangersIn(entries, register)
  if (strangers.length === 0) return
  const some = strangers.slice(0, 10).map(([mark, count]) => `${mark} (${count})`)
  const more = strangers.length > 10 ? ` and ${strangers.length - 10} more` : ''
  const all = strangers.reduce((sum, [, count]) => sum + count, 0)
  world.stderr.write(
    `${path}: no opening of the register has the ${strangers.length === 1 ? 'mark' : 'marks'} ${some.join(', ')}${more}: ${all} ${all === 1 ? 'entry counts' : 'entries count'} for nothing (was: [...] gives an opening its earlier marks)\n`,
  )
}

/**
 * Every entry of a tally in its order; none where neither is given. Marks in a file that `register` does not know
 * are told on stderr.
 * @throws Stop exit 1 when a line is no entry, exit 3 when it cannot be read
 */
export async function readEntries(
  { tally, data }: TallyPlaceOptions,
  world: World,
  options: { register?: Register; mayBeMissing?: boolean } = {},
): Promise<Entry[]> {
  if (tally !== undefined) {
    const entries = await readTally(tally, world, options)
    if (options.register) tellStrangers(tally, entries, options.register, world)
    return entries
  }
  if (data === undefined) return []
  if (options.mayBeMissing && !existsSync(join(resolve(world.cwd, data), TALLY_FILE))) return []
  const store = await openHistory(data, undefined, world)
  try {
    return await readingStore(data, () => [...store.entries()])
  } finally {
    await store.close()
  }
}

/**
 * Adds entries to a tally. In a keeper's folder that needs the keeper to be stopped: while it runs, say it to the keeper.
 * @throws Stop exit 3 when it cannot be written, or a keeper is at work there
 */
export async function appendEntries(
  { tally, data }: TallyPlaceOptions,
  entries: readonly Entry[],
  world: World,
): Promise<void> {
  if (tally !== undefined) await appendTally(tally, entries, world)
  if (data === undefined) return
  const folder = resolve(world.cwd, data)
  await withStoreProblems(async () => {
    const lock = takeLock(folder, iso(world.now()))
    try {
      const store = TallyStore.open(folder, 'write', ledgerRules({}))
      try {
        store.commitBatch({ entries: entries.filter(({ id }) => !store.find(id)) })
      } finally {
        await store.close()
      }
    } finally {
      lock.release()
    }
  })
}

/**
 * Where results go: a folder in which a keeper is at work is only read, and the results are said to that keeper.
 * @throws Stop exit 3 when entries could not be added
 */
export async function placeToKeep(place: TallyPlaceOptions, world: World): Promise<TallyPlaceOptions> {
  if (place.data !== undefined && isBusy(resolve(world.cwd, place.data), world)) return {}
  await mustBeAppendable(place, world)
  return place
}

function isBusy(folder: string, world: World): boolean {
  try {
    takeLock(folder, iso(world.now())).release()
    return false
  } catch (error) {
    return error instanceof StoreProblem && error.fault === 'busy'
  }
}

/**
 * Makes sure that entries could be added, before anybody spends an opening on them. Nothing is written to a tally.
 * @throws Stop exit 3 when it cannot be written, or a keeper is at work there
 */
export async function mustBeAppendable({ tally, data }: TallyPlaceOptions, world: World): Promise<void> {
  if (tally !== undefined) await mustBeWritable(tally, world)
  if (data === undefined) return
  const folder = resolve(world.cwd, data)
  await withStoreProblems(() => {
    try {
      takeLock(folder, iso(world.now())).release()
    } catch (error) {
      if (!(error instanceof StoreProblem) || error.fault !== 'busy') throw error
      throw new Stop(EXIT.world, `${error.message}, or leave --data out: the keeper is told the result then`)
    }
  })
  const file = join(folder, TALLY_FILE)
  if (existsSync(file)) await mustBeWritable(file, world)
}

/** The ledger of a tally under the register of today. Of a keeper's folder only what its snapshot lacks is counted. */
export async function ledgerOfHistory(
  register: Register,
  { tally, data }: TallyPlaceOptions,
  world: World,
): Promise<Ledger> {
  const policy = policyOf(register)
  if (data === undefined) return applyAll(startLedger(policy), await readEntries({ tally }, world, { register }))
  const store = await openHistory(data, register, world)
  try {
    return await readingStore(data, () => {
      const { kept } = store.replay('')
      if (!mustRecount(kept, policy)) return withPolicy(kept, policy)
      return applyAll(startLedger(policy, kept.since), store.entries())
    })
  } finally {
    await store.close()
  }
}
