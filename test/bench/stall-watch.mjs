// What stops the event loop, and what of it was work of the program, and how long a bare flush of the disk takes meanwhile.
import { closeSync, fsyncSync, openSync, readFileSync, writeSync } from 'node:fs'
import { PerformanceObserver } from 'node:perf_hooks'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'

const EVERY_MILLISECONDS = 5
const FLUSH_EVERY_MILLISECONDS = 20

/** Milliseconds in which this thread ran, and in which it was ready and had no processor; Linux alone tells. */
function ranAndWaited() {
  try {
    const [ran, waited] = readFileSync('/proc/thread-self/schedstat', 'utf8').split(' ')
    return [Number(ran) / 1e6, Number(waited) / 1e6]
  } catch {
    return [Number.NaN, Number.NaN]
  }
}

const part = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? 0

/**
 * Looks at the event loop from now on, and flushes a file in `folder` beside it.
 * `end` gives milliseconds: the longest stall with what it was made of, the longest work in one go,
 * the longest garbage collection (a part of both), and the bare flushes.
 */
export function watchStalls(folder) {
  const flusher = new Worker(new URL(import.meta.url), { workerData: `${folder}/bare-flush`, execArgv: [] })
  const stalls = []
  let work = 0
  let collection = 0
  const collections = new PerformanceObserver(list => {
    for (const { duration } of list.getEntries()) collection = Math.max(collection, duration)
  })
  collections.observe({ entryTypes: ['gc'] })
  let [last, [ran, waited]] = [performance.now(), ranAndWaited()]
  const timer = setInterval(() => {
    const now = performance.now()
    const [ranNow, waitedNow] = ranAndWaited()
    stalls.push({ stall: now - last - EVERY_MILLISECONDS, work: ranNow - ran, waited: waitedNow - waited })
    work = Math.max(work, ranNow - ran)
    last = now
    ran = ranNow
    waited = waitedNow
  }, EVERY_MILLISECONDS)
  return {
    async end() {
      clearInterval(timer)
      collections.disconnect()
      const flushed = new Promise(done => flusher.once('message', done))
      flusher.postMessage('end')
      const flushes = (await flushed).sort((a, b) => a - b)
      stalls.sort((a, b) => a.stall - b.stall)
      return {
        longest: stalls.at(-1) ?? { stall: 0, work: 0, waited: 0 },
        p99: part(stalls, 0.99).stall,
        work,
        collection,
        flush: {
          count: flushes.length,
          p50: part(flushes, 0.5),
          p99: part(flushes, 0.99),
          longest: flushes.at(-1) ?? 0,
        },
      }
    },
  }
}

if (!isMainThread && typeof workerData === 'string') {
  const file = openSync(workerData, 'w')
  const took = []
  const timer = setInterval(() => {
    writeSync(file, Buffer.alloc(4096), 0, 4096, (took.length % 256) * 4096)
    const started = performance.now()
    fsyncSync(file)
    took.push(performance.now() - started)
  }, FLUSH_EVERY_MILLISECONDS)
  parentPort.once('message', () => {
    clearInterval(timer)
    closeSync(file)
    parentPort.postMessage(took)
  })
}
