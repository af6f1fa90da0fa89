/** A store that does not answer by then is gone without. */
const STORE_MILLISECONDS = 4_000

/** @throws Error when the job has not ended in time */
export const inTime = <T>(job: Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error('the store did not answer in time')), STORE_MILLISECONDS)
    job.then(done, failed).finally(() => clearTimeout(timer))
  })
