import { defineConfig } from 'vitest/config'

/** Long runs: `npm run torture`; another seed with SASHTALLY_SEED=n. */
export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['test/torture/**/*.test.ts'],
    testTimeout: 3_600_000,
    maxWorkers: 1,
  },
})
