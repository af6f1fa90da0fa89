import { defineConfig } from 'vitest/config'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['test/**/*.test.ts'],
    exclude: ['test/card/**/*.browser.test.ts', 'test/torture/**', 'node_modules/**'],
    testTimeout: 20_000,
    hookTimeout: 30_000,
    maxWorkers: 2,
  },
})
