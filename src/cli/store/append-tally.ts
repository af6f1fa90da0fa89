import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { withFolder } from '../../keeper/store/folder.ts'
import { takeLock } from '../../keeper/store/lock.ts'
import { TALLY_FILE } from '../../keeper/store/schema.ts'
import type { TallyStore } from '../../keeper/store/store.ts'
import { StoreProblem } from '../../keeper/store/store-problem.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import { iso } from '../../text/time.ts'
import { mustBeWritable } from '../files/read-write.ts'
import type { World } from '../world.ts'
import { withStoreProblems } from './problems.ts'
import { appendTallyFile } from './tally-file.ts'
import type { TallyPath } from './tally-path.ts'

/**
 * Adds entries to a tally; those whose id stands there already are left out. In a keeper's folder that needs the keeper
 * to be stopped: while it runs, say it to the keeper.
 * @throws Stop exit 3 when it cannot be written, or a keeper is at work there
 */
export async function appendTally(at: TallyPath, entries: readonly Entry[], world: World): Promise<void> {
  if (at.kind === 'file') return appendTallyFile(at.path, entries, world)
  await writeFolder(at.path, {}, world, store =>
    store.commitBatch({ entries: entries.filter(({ id }) => !store.find(id)) }),
  )
}

/**
 * Opens the tally of a folder to write in it, made if it is not there, and closes it after `work`.
 * @param policy - how entries count, where they are counted
 * @throws Stop exit 3 when it cannot be written, or a keeper is at work there
 */
export async function writeFolder<T>(
  path: string,
  policy: HousePolicy,
  world: World,
  work: (store: TallyStore<Ledger>) => T | Promise<T>,
): Promise<T> {
  const folder = { folder: resolve(world.cwd, path), startedIso: iso(world.now()), policy }
  return withStoreProblems(() => withFolder(folder, work))
}

/**
 * Where results go: undefined where a keeper is at work in the folder, which is only read then, and the results are said
 * to that keeper.
 * @throws Stop exit 3 when entries could not be added
 */
export async function tallyToKeep(at: TallyPath | undefined, world: World): Promise<TallyPath | undefined> {
  if (at?.kind === 'folder' && isBusy(at.path, world)) return undefined
  if (at) await mustBeAppendable(at, world)
  return at
}

function isBusy(path: string, world: World): boolean {
  try {
    takeLock(resolve(world.cwd, path), iso(world.now())).release()
    return false
  } catch (error) {
    return error instanceof StoreProblem && error.fault === 'busy'
  }
}

/** Before anybody spends an opening on them. Nothing is written to a tally. */
async function mustBeAppendable(at: TallyPath, world: World): Promise<void> {
  if (at.kind === 'file') return mustBeWritable(at.path, world)
  const folder = resolve(world.cwd, at.path)
  await withStoreProblems(() => takeLock(folder, iso(world.now())).release())
  const file = join(folder, TALLY_FILE)
  if (existsSync(file)) await mustBeWritable(file, world)
}
