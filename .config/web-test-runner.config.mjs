import { existsSync, writeFileSync } from 'node:fs'
import { relative } from 'node:path'
import { fileURLToPath } from 'node:url'
import { esbuildPlugin } from '@web/dev-server-esbuild'
import { defaultReporter } from '@web/test-runner'
import { chromeLauncher } from '@web/test-runner-chrome'

const rootDir = fileURLToPath(new URL('..', import.meta.url))
const executablePath = [process.env.CHROME_PATH, '/usr/bin/chromium', '/usr/bin/google-chrome'].find(
  path => path && existsSync(path),
)

/** Counts of passed, failed and skipped tests, and which passed and failed, for the test command. */
const counts = {
  onTestRunFinished({ sessions }) {
    const file = process.env.SASHTALLY_COUNTS
    if (!file) return
    const sums = { passed: 0, failed: 0, skipped: 0, failures: [], passes: [] }
    const fileOf = session => relative(rootDir, session.testFile)
    const fail = (session, test) => {
      sums.failed++
      sums.failures.push({ file: fileOf(session), test })
    }
    const add = (session, suite) => {
      for (const test of suite?.tests ?? []) {
        if (test.skipped) sums.skipped++
        else if (test.passed) {
          sums.passed++
          sums.passes.push(`${fileOf(session)} ${test.name}`)
        } else fail(session, test.name)
      }
      for (const inner of suite?.suites ?? []) add(session, inner)
    }
    for (const session of sessions) {
      if (session.testResults) add(session, session.testResults)
      if (!session.passed && (session.errors.length > 0 || !session.testResults)) fail(session, 'as a whole')
    }
    writeFileSync(file, JSON.stringify(sums))
  },
}

export default {
  rootDir,
  files: ['test/card/**/*.browser.test.ts'],
  nodeResolve: { exportConditions: ['production', 'default'] },
  concurrency: 1,
  browsers: [
    chromeLauncher({
      launchOptions: {
        ...(executablePath ? { executablePath } : {}),
        args: [
          '--no-sandbox',
          '--disable-dev-shm-usage',
          '--disable-gpu',
          '--no-first-run',
          '--disable-background-networking',
          '--disable-component-update',
          '--disable-sync',
        ],
      },
    }),
  ],
  plugins: [
    esbuildPlugin({
      ts: true,
      target: 'es2022',
      tsconfig: fileURLToPath(new URL('../tsconfig.json', import.meta.url)),
    }),
  ],
  reporters: [defaultReporter({ reportTestResults: true, reportTestProgress: false }), counts],
  // For what hangs, not for what is slow: a busy machine takes ten times as long.
  testFramework: { config: { timeout: 120_000 } },
  browserStartTimeout: 120_000,
  testsStartTimeout: 120_000,
  testsFinishTimeout: 900_000,
}
