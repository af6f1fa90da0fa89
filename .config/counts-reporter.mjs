import { writeFileSync } from 'node:fs'

/** Counts of passed, failed and skipped tests, and which passed and failed, for the test command. */
export default class CountsReporter {
  onTestRunEnd(modules, unhandledErrors) {
    const file = process.env.SASHTALLY_COUNTS
    if (!file) return
    const counts = { passed: 0, failed: 0, skipped: 0, failures: [], passes: [] }
    const fail = (file, test, errors = []) => {
      counts.failed++
      // fast-check's words for a counterexample, which stays one in every other run.
      const isProven = errors.some(({ message }) => message?.includes('Property failed after'))
      counts.failures.push({ file, test, isProven })
    }
    for (const module of modules) {
      const before = counts.failed
      for (const test of module.children.allTests()) {
        const { state, errors } = test.result()
        const named = [module.relativeModuleId, test.fullName]
        if (state === 'failed') fail(...named, errors)
        else if (state !== 'passed') counts.skipped++
        else {
          counts.passed++
          counts.passes.push(named.join(' '))
        }
      }
      // Its own code threw, or its process ended before it could say what its tests came to.
      const isWhole = ['passed', 'failed', 'skipped'].includes(module.state())
      if (counts.failed === before && (!isWhole || module.state() === 'failed')) fail(module.relativeModuleId, 'as a whole')
    }
    // Of these nobody can tell which file to run again.
    for (const error of unhandledErrors) fail(undefined, `outside of a test: ${error?.message ?? error}`)
    writeFileSync(file, JSON.stringify(counts))
  }
}
