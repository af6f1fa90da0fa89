import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { applyAll, foldEntry, startLedger } from '../../src/ledger/apply.ts'
import { EMPTY_FOLD } from '../../src/ledger/fold.ts'
import { asCounted } from '../../src/ledger/window.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { COIN, time } from './notation.ts'

const START = Date.parse(time('00:00'))
const someEntries: fc.Arbitrary<readonly Entry[]> = fc.array(
  fc
    .record({
      id: fc.nat(40).map(String),
      seconds: fc.nat(7_200),
      what: fc.constantFrom('opened', 'rest', 'seen-closed', 'cell-fitted', 'failed', 'proved', 'undone', 'on-test'),
      how: fc.constantFrom('live', 'said', 'tested'),
      undoes: fc.nat(40).map(String),
    })
    .map(({ seconds, undoes, ...rest }): Entry => {
      const at = new Date(START + seconds * 1000).toISOString()
      return { ...rest, at, mark: 'W01', ...(rest.what === 'undone' ? { undoes } : {}) } as Entry
    }),
  { maxLength: 60 },
)

describe('entries as they are counted', () => {
  it('add up to what the ledger makes of them, whatever was taken back or said for an earlier time', () => {
    fc.assert(
      fc.property(someEntries, entries => {
        const { marks } = applyAll(startLedger({ W01: COIN }), entries)
        const added = asCounted(entries).reduce((fold, entry) => foldEntry(fold, entry, COIN), EMPTY_FOLD)
        expect(added).toEqual(marks.W01?.fold ?? EMPTY_FOLD)
      }),
    )
  })
})
