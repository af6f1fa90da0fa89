import { describe, expect, it } from 'vitest'
import { sendNonsense } from '../keeper/nonsense.ts'
import { haveMosquitto } from '../support/mosquitto.ts'
import { flipBits } from './flips.ts'
import { killAndRestart } from './kills.ts'

const seed = Number(process.env.SASHTALLY_SEED ?? Date.now() % 1_000_000)

it(`100,000 random topics and payloads leave the keeper running and the ledger right (seed ${seed})`, () =>
  sendNonsense(100_000, seed))

it(`300 flipped bits alter and lose no entry of a mended tally unsaid (seed ${seed})`, () => {
  const outcome = flipBits(300, seed)
  console.log('300 flipped bits:', JSON.stringify(outcome))
  expect(outcome.found).toBeGreaterThan(30)
})

describe.skipIf(haveMosquitto.skip)(
  haveMosquitto.title('200 kills of the keeper and 20 restarts of a real broker'),
  () => {
    it(`leave every acknowledged word, once or marked, and at least once without a boot count (seed ${seed})`, async () => {
      const outcome = await killAndRestart({ kills: 200, restarts: 20, seed })
      console.log('200 kills, 20 restarts:', JSON.stringify(outcome))
      expect(outcome.queued).toBeGreaterThan(500)
      expect(outcome.taken, 'nobody else had the session').toBe(0)
    })
  },
)

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('80 kills among mishaps'), () => {
  it(`a broker from an older store, thieves, edits and a full disk cost no acknowledged word (seed ${seed})`, async () => {
    const mishaps = ['olderStore', 'thief', 'edit', 'fullDisk'] as const
    const outcome = await killAndRestart({ kills: 80, restarts: 4, mishaps, seed: seed + 1 })
    console.log('80 kills, 4 restarts, mishaps:', JSON.stringify(outcome))
    for (const mishap of mishaps) expect(outcome.mishaps[mishap], mishap).toBeGreaterThan(10)
  })
})
