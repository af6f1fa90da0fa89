import { defineConfig } from 'vitest/config'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['test/**/*.test.ts'],
    exclude: ['test/card/**/*.browser.test.ts', 'test/torture/**', 'node_modules/**'],
    // For what hangs, not for what is slow: a busy machine takes ten times as long.
    testTimeout: 300_000,
    hookTimeout: 300_000,
    maxWorkers: 2,
  },
})
