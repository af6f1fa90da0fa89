import { readFileSync } from 'node:fs'
import { gzipSync } from 'node:zlib'
import { expect, test } from 'vitest'

/** What a slow tablet on a weak link may be asked to load: a limit of our own, without a source. */
const MOST_BYTES = 136_000

test('the one-file card is light enough for a cheap tablet', () => {
  const card = readFileSync(new URL('../../dist/sash-tally.js', import.meta.url))
  const weight = gzipSync(card, { level: 9 }).length
  expect(weight).toBeGreaterThan(50_000)
  expect(weight).toBeLessThanOrEqual(MOST_BYTES)
})
