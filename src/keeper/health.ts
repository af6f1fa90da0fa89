import type { Journal } from './journal.ts'
import type { Status } from './publish/status.ts'
import type { Health, Vitals } from './publish/verdict.ts'
import type { Upkeep } from './repair/upkeep.ts'
import type { LinkSide } from './session/link-side.ts'
import type { RefusalLog } from './session/refusal-log.ts'

interface Parts {
  readonly store: { readonly length: number }
  readonly journal: Pick<Journal, 'waiting'>
  readonly refusals: Pick<RefusalLog, 'lastDay'>
  readonly status: Pick<Status, 'health'>
  readonly link: Pick<LinkSide, 'isSettled'>
  readonly upkeep: Pick<Upkeep, 'health'> | undefined
}

/** Asks the parts of a keeper, each time anew. */
export interface KeeperHealth {
  /** Without the disk: what costs nothing. */
  vitals(): Vitals
  health(): Health
}

export function healthOf({ store, journal, refusals, status, link, upkeep }: Parts): KeeperHealth {
  const vitals = (): Vitals => ({ isSettled: link.isSettled, ...status.health })
  return {
    vitals,
    health: () => ({
      ...vitals(),
      entries: store.length,
      waiting: journal.waiting,
      refused: refusals.lastDay,
      ...upkeep?.health,
    }),
  }
}
