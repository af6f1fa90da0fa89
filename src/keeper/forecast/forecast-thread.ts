import { Worker } from 'node:worker_threads'
import type { LeftByMark } from '../../house/state.ts'
import { messageOf } from '../../text/message-of.ts'
import { MINUTE } from '../../text/time.ts'
import { type Forecast, type ForecastAnswer, type ForecastAsk, leanLedger } from './forecast.ts'
import { workerUrl } from './worker-url.ts'

interface Waiting {
  readonly house: object
  readonly ask: ForecastAsk
  readonly made: Promise<LeftByMark>
  done(left: LeftByMark): void
  failed(error: Error): void
  /** Monotonic milliseconds. */
  since: number
  isTriedAgain: boolean
}

/** A forecast that takes so long hangs: a thousand openings of three years take seconds. */
const LONGEST_MILLISECONDS = 5 * MINUTE
/** What has waited so long comes before what is newer. */
const PATIENCE_MILLISECONDS = MINUTE

/**
 * Forecasts beside the event loop, one after the other for all houses of this process: the newest asked for first, and
 * one waiting a house at most. A thread that ends is begun again, and what it had in hand is tried once more, after the others.
 */
export class ForecastThread {
  readonly #url: URL
  readonly #longest: number
  #worker: Worker | undefined
  /** By house, the newest last. */
  #waiting = new Map<object, Waiting>()
  #inHand: Waiting | undefined
  #limit: NodeJS.Timeout | undefined

  constructor(url: URL = workerUrl, longestMilliseconds = LONGEST_MILLISECONDS) {
    this.#url = url
    this.#longest = longestMilliseconds
  }

  /** @returns the same promise as before where the house waits already; it is the newest then */
  readonly forecast: Forecast = (house, ask) => {
    const waiting = this.#waiting.get(house) ?? newWaiting(house, ask)
    this.#waiting.delete(house)
    this.#waiting.set(house, waiting)
    this.#next()
    return waiting.made
  }

  #next(): void {
    const waiting = this.#inHand ? undefined : this.#chosen()
    if (!waiting) return
    this.#waiting.delete(waiting.house)
    this.#inHand = waiting
    try {
      const { register, ledger, now } = waiting.ask.give()
      this.#worker ??= this.#begin()
      this.#worker.postMessage({ register, ledger: leanLedger(ledger), now })
      this.#limit = setTimeout(() => void this.#worker?.terminate(), this.#longest).unref()
    } catch (error) {
      this.#settle({ error: messageOf(error) })
    }
  }

  /** The newest, unless another one has waited for long. */
  #chosen(): Waiting | undefined {
    const all = [...this.#waiting.values()]
    const late = performance.now() - PATIENCE_MILLISECONDS
    return all.filter(({ since }) => since < late).sort((a, b) => a.since - b.since)[0] ?? all.at(-1)
  }

  #begin(): Worker {
    let why: string | undefined
    const worker = new Worker(this.#url)
    worker.on('message', (answer: ForecastAnswer) => this.#settle(answer))
    worker.on('error', error => {
      why = messageOf(error)
    })
    worker.on('exit', code => {
      this.#worker = undefined
      this.#died(why ?? `exit code ${code}`)
    })
    // After the listeners, which would hold the process: it may end without the thread.
    worker.unref()
    return worker
  }

  #settle(answer: ForecastAnswer): void {
    clearTimeout(this.#limit)
    const waiting = this.#inHand
    this.#inHand = undefined
    if ('left' in answer) waiting?.done(answer.left)
    else waiting?.failed(new Error(answer.error))
    // In a turn of its own: what is handed over next is copied on the event loop.
    setImmediate(() => this.#next())
  }

  #died(why: string): void {
    const waiting = this.#inHand
    if (!waiting) return
    waiting.ask.died(why)
    if (waiting.isTriedAgain) {
      this.#settle({ error: `the thread that forecasts ended twice over it (${why})` })
      return
    }
    clearTimeout(this.#limit)
    this.#inHand = undefined
    waiting.isTriedAgain = true
    waiting.since = performance.now()
    const newer = this.#waiting.get(waiting.house)
    if (newer) newer.made.then(waiting.done, waiting.failed)
    else this.#waiting = new Map([[waiting.house, waiting], ...this.#waiting])
    this.#next()
  }
}

function newWaiting(house: object, ask: ForecastAsk): Waiting {
  let [done, failed]: [Waiting['done'], Waiting['failed']] = [() => {}, () => {}]
  const made = new Promise<LeftByMark>((good, bad) => {
    done = good
    failed = bad
  })
  return { house, ask, made, done, failed, since: performance.now(), isTriedAgain: false }
}

/** The one of this process; its thread begins with the first forecast. */
export const forecastThread = new ForecastThread()
