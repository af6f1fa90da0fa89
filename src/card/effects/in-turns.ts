import type { Steps } from '../../text/steps.ts'

/** Longest that steps are gathered into one task, milliseconds. */
const TURN = 16

/** Works in turns with the page: between two of them it draws, and hears a finger. */
export async function inTurns<T>(steps: Steps<T>): Promise<T> {
  let until = performance.now() + TURN
  let step = steps.next()
  while (!step.done) {
    if (performance.now() > until) {
      await new Promise(done => setTimeout(done))
      until = performance.now() + TURN
    }
    step = steps.next()
  }
  return step.value
}
