import { statfsSync, statSync } from 'node:fs'
import { join } from 'node:path'
import type { KeeperProblemCode } from '../../protocol/keeper-note.ts'
import { messageOf } from '../../text/message-of.ts'
import { DAY, HOUR } from '../../text/time.ts'
import type { Clock } from '../clock.ts'
import type { Tell } from '../log-codes.ts'
import type { Health } from '../publish/verdict.ts'
import { TALLY_FILE } from '../store/schema.ts'
import type { TallyStore } from '../store/store.ts'
import { type Backups, backedUpAt, backUp, isBackupDue } from './backup.ts'

export interface UpkeepOptions {
  readonly store: Pick<TallyStore<unknown>, 'length' | 'backup' | 'check'>
  /** The folder of the store. */
  readonly folder: string
  readonly backups?: Backups
  readonly clock: Clock
  readonly tell: Tell
  /** What stands on the keeper's state until it is taken back with undefined. */
  standing(code: KeeperProblemCode, problem: string | undefined): void
}

/** Less than this is told before it is nothing, bytes: weeks of entries, and room for a copy beside it. */
const LEAST_FREE = 64 * 1024 * 1024

/** What nobody waits for: once a day a backup and a look through the whole store, and whether the disk runs full. */
export class Upkeep {
  readonly #o: UpkeepOptions
  #checkedAt: number
  /** When a backup was last tried. */
  #triedAt = Number.NEGATIVE_INFINITY
  #isBusy = false
  #isStopped = false

  constructor(options: UpkeepOptions) {
    this.#o = options
    this.#checkedAt = options.clock.monotonic()
  }

  /** Bytes that the disk of the store has left for this user. */
  get diskLeft(): number {
    const { bavail, bsize } = statfsSync(this.#o.folder)
    return bavail * bsize
  }

  /** When the newest backup was made, milliseconds since the epoch. */
  get backedUpAt(): number | undefined {
    return this.#o.backups && backedUpAt(this.#o.backups.folder, this.#o.clock.now())
  }

  get health(): Pick<Health, 'backupAgeMilliseconds' | 'diskFreeBytes'> {
    const { backups, clock } = this.#o
    const diskFreeBytes = orNone(() => this.diskLeft)
    const backupAt = orNone(() => this.backedUpAt)
    return {
      ...(backups
        ? { backupAgeMilliseconds: backupAt === undefined ? Number.POSITIVE_INFINITY : clock.now() - backupAt }
        : {}),
      ...(diskFreeBytes === undefined ? {} : { diskFreeBytes }),
    }
  }

  /** @param isQuiet - nothing was heard for a while: the store may be looked through */
  beat(isQuiet: boolean): void {
    this.#watchDisk()
    const { clock, backups } = this.#o
    if (this.#isBusy) return
    const mayTry = clock.monotonic() - this.#triedAt >= HOUR
    if (backups && mayTry && isBackupDue(backups.folder, clock.now())) this.#run(() => this.#backUp(backups))
    else if (isQuiet && clock.monotonic() - this.#checkedAt >= DAY) this.#run(() => this.#check())
  }

  stop(): void {
    this.#isStopped = true
  }

  #run(work: () => Promise<void>): void {
    this.#isBusy = true
    void work().finally(() => {
      this.#isBusy = false
    })
  }

  #watchDisk(): void {
    try {
      const least = Math.max(LEAST_FREE, 2 * statSync(join(this.#o.folder, TALLY_FILE)).size)
      const left = this.diskLeft
      const megabytes = Math.floor(left / 1e6)
      this.#o.standing(
        'disk',
        left < least ? `the disk is nearly full: ${megabytes} MB left; free some space` : undefined,
      )
    } catch {
      // The store says itself what is wrong with its file at the next commit.
    }
  }

  async #backUp({ folder, keep }: Backups): Promise<void> {
    this.#triedAt = this.#o.clock.monotonic()
    try {
      if (await backUp(this.#o.store, folder, keep, this.#o.clock.now()))
        this.#o.tell(`a backup was made in ${folder}`, 'backup-made')
      this.#o.standing('backup', undefined)
    } catch (error) {
      this.#o.standing('backup', `no backup: ${messageOf(error)}`)
    }
  }

  async #check(): Promise<void> {
    this.#checkedAt = this.#o.clock.monotonic()
    try {
      for (const { wrong } of this.#o.store.check()) {
        if (this.#isStopped) return
        if (wrong[0] !== undefined) {
          this.#o.standing('store', `entry ${wrong[0]} is not what was kept: end the keeper and run \`sashtally mend\``)
          return
        }
        await new Promise(done => setImmediate(done))
      }
      this.#o.standing('store', undefined)
    } catch (error) {
      this.#o.standing('store', `the tally cannot be looked through: ${messageOf(error)}`)
    }
  }
}

/** What a folder that was removed cannot tell. */
function orNone<T>(ask: () => T): T | undefined {
  try {
    return ask()
  } catch {
    return undefined
  }
}
