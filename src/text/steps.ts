/** Work in steps: after each, whoever runs it may do something else. */
export type Steps<T> = Generator<undefined, T, undefined>

/** All steps, one after the other. */
export function allSteps<T>(steps: Steps<T>): T {
  let step = steps.next()
  while (!step.done) step = steps.next()
  return step.value
}
