import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach } from 'vitest'
import * as z from 'zod/mini'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Rules } from '../../src/keeper/store/store-rules.ts'
import type { Entry } from '../../src/protocol/entry.ts'

const made: string[] = []
afterEach(() => {
  for (const folder of made.splice(0)) rmSync(folder, { recursive: true, force: true })
})

/** A folder of its own that is gone after the test. */
export function tempFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-'))
  made.push(folder)
  return folder
}

export interface Ids {
  readonly born: string
  readonly ids: readonly string[]
}

const schema = z.strictObject({ born: z.string(), ids: z.array(z.string()) })

/** The simplest ledger: the ids in their order. */
export const listing: Rules<Ids> = {
  format: 'ids 1',
  isKept: (value): value is Ids => schema.safeParse(value).success,
  start: born => ({ born, ids: [] }),
  apply: (kept, entries) => ({ ...kept, ids: [...kept.ids, ...Array.from(entries, ({ id }) => id)] }),
}

export const opened = (n: number, rest: Partial<Entry> = {}): Entry => ({
  id: `e${n}`,
  at: new Date(Date.UTC(2026, 5, 1) + n * 60_000).toISOString(),
  mark: 'W07',
  what: 'opened',
  how: 'live',
  ...rest,
})

/** The keeper's name at the broker, as the store of a data folder has it. */
export function clientIdIn(data: string): string {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return store.fact('clientId') ?? ''
  } finally {
    void store.close()
  }
}
