import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { mendStore } from '../../src/keeper/repair/mend.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TALLY_FILE } from '../../src/keeper/store/schema.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { StoreProblem } from '../../src/keeper/store/store-problem.ts'
import type { Entry } from '../../src/protocol/entry.ts'

const ENTRIES = 2_000

export interface Flips {
  /** Flips after which the store was said to be damaged. */
  readonly found: number
  /** Flips after which an entry was lost or altered, which was said. */
  readonly harmful: number
  /** Flips after which not one entry could be read, which was said. */
  readonly refused: number
}

const texts = (data: string): string[] => {
  const store = TallyStore.open(data, 'read', ledgerRules({}))
  try {
    return Array.from(store.entries(), entry => JSON.stringify(entry))
  } finally {
    void store.close()
  }
}

/** Flips one bit of a whole tally at a time and mends it: what is altered or lost must be said. */
export function flipBits(flips: number, seed: number): Flips {
  const random = seeded(seed)
  const parent = mkdtempSync(join(tmpdir(), 'sashtally-flips-'))
  try {
    const whole = join(parent, 'whole')
    const store = TallyStore.open(whole, 'write', ledgerRules({}))
    const at = (n: number) => new Date(Date.UTC(2026, 5, 1) + n * 60_000).toISOString()
    const entries = Array.from(
      { length: ENTRIES },
      (_, n): Entry => ({
        ...{ id: `e${n}`, at: at(n), mark: `W${n % 20}`, what: 'opened', how: 'live', boots: n },
      }),
    )
    store.commitBatch({ entries })
    void store.close()
    const right = new Set(texts(whole))
    const bytes = readFileSync(join(whole, TALLY_FILE))
    const outcome = { found: 0, harmful: 0, refused: 0 }
    for (let n = 0; n < flips; n++) {
      const data = join(parent, `flip-${n}`)
      mkdirSync(data)
      const bit = Math.floor(random() * bytes.length * 8)
      const flipped = Buffer.from(bytes)
      flipped[bit >> 3]! ^= 1 << (bit & 7)
      writeFileSync(join(data, TALLY_FILE), flipped)
      copyFileSync(join(whole, `${TALLY_FILE}.last`), join(data, `${TALLY_FILE}.last`))
      try {
        const { problems, doubtful, lost } = mendStore(data, `flip ${n}`)
        const now = texts(data)
        const altered = now.filter(text => !right.has(text)).length
        const missing = ENTRIES - (now.length - altered)
        expect(altered, `bit ${bit}: altered, and not said`).toBeLessThanOrEqual(doubtful.length)
        if (missing > 0)
          expect([bit, problems.length > 0, doubtful.length + lost.length > 0]).toEqual([bit, true, true])
        if (problems.length > 0) outcome.found++
        if (missing > 0) outcome.harmful++
      } catch (error) {
        if (!(error instanceof StoreProblem)) throw error
        outcome.refused++
      }
      rmSync(data, { recursive: true, force: true })
    }
    return outcome
  } finally {
    rmSync(parent, { recursive: true, force: true })
  }
}
