import { describe, expect, it } from 'vitest'
import { haveMosquitto } from '../support/mosquitto.ts'
import { killAndRestart } from '../torture/kills.ts'

describe.skipIf(haveMosquitto.skip)(
  haveMosquitto.title('20 kills of the keeper and 3 restarts of a real broker'),
  () => {
    it('leave every acknowledged word, once or marked, and at least once without a boot count', async () => {
      const outcome = await killAndRestart({ kills: 20, restarts: 3, seed: 4 })
      console.log('20 kills, 3 restarts:', JSON.stringify(outcome))
      expect(outcome.queued).toBeGreaterThan(50)
    }, 900_000)
  },
)
