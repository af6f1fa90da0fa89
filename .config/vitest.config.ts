import { fileURLToPath } from 'node:url'
import { defineConfig } from 'vitest/config'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  // Node runs no TypeScript in a thread: the thread that forecasts is made from its sources before the tests.
  resolve: {
    alias: [
      {
        find: /^\.\/worker-url\.ts$/,
        replacement: fileURLToPath(new URL('../test/support/worker-url.ts', import.meta.url)),
      },
    ],
  },
  test: {
    globalSetup: ['test/support/make-worker.ts'],
    include: ['test/**/*.test.ts'],
    exclude: ['test/card/**/*.browser.test.ts', 'test/torture/**', 'node_modules/**'],
    // For what hangs, not for what is slow: a busy machine takes ten times as long.
    testTimeout: 300_000,
    hookTimeout: 300_000,
    maxWorkers: 2,
  },
})
