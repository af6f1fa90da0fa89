import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { policyOf } from '../../src/house/policy.ts'
import { ledgerRules, openLedger } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { read } from '../../src/ledger/read.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { BenchHouse, registerOf } from './bench-house.ts'
import { tempFolder } from './folder.ts'

/** What the code that made a store read from it. */
interface Then {
  readonly now: string
  readonly entries: number
  readonly readings: readonly Reading[]
}

const file = (name: string) => readFileSync(new URL(`stores/${name}`, import.meta.url))

/**
 * Made by the code after release 0.1.0, at the commits 4c38b29^ and 090b66c, the last by 4d40de8 out of the one before: a
 * morning of the house of `bench-house.ts` with words live and queued, a look, a cell, a test, what was taken back, a
 * clock that was set and a link that was lost.
 */
describe.each(['ledger-8', 'ledger-9', 'ledger-10'])('a store whose ledger was kept as %s', name => {
  const then = JSON.parse(file(`${name}.readings.json`).toString()) as Then
  const put = (folder: string): void =>
    writeFileSync(join(folder, 'tally.sqlite'), gunzipSync(file(`${name}.sqlite.gz`)))

  it('is counted again, and reads as it did', async () => {
    const folder = tempFolder()
    put(folder)
    const policy = policyOf(registerOf())
    const store = TallyStore.open(folder, 'write', ledgerRules(policy))
    expect(store.length).toBe(then.entries)
    expect([...store.check()].flatMap(({ wrong }) => wrong)).toEqual([])
    expect(store.replay('').replayed, 'what was kept has another shape').toBe(then.entries)
    const ledger = openLedger(store, policy, '')
    expect(read(ledger, Date.parse(then.now), policy, {})).toEqual(then.readings)
    await store.close()
  })

  it('is gone on with by a keeper', async () => {
    const house = new BenchHouse(then.now)
    put(house.folder)
    await house.start()
    const openings = (mark: string) => then.readings.find(each => each.mark === mark)!.openings
    for (const { mark } of then.readings) expect(house.reading(mark)?.openings).toBe(openings(mark))
    await house.clock.pass(60)
    await house.say('ropewalk/w01', 'opened')
    expect(house.reading('W01')).toMatchObject({ position: 'open', openings: openings('W01') + 1 })
    await house.keeper.stop()
    await house.store.close()
  })
})
