/** A store that does not answer by then is gone without. */
const STORE_MILLISECONDS = 4_000

/** @throws Error when the job has not ended in time */
export const inTime = <T>(job: Promise<T>, what = 'the store', milliseconds = STORE_MILLISECONDS): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error(`${what} did not answer in time`)), milliseconds)
    job.then(done, failed).finally(() => clearTimeout(timer))
  })
