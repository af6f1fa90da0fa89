/** The thread that forecasts: a house comes in, what its cells have left goes out. */
import { parentPort } from 'node:worker_threads'
import { leftOf } from '../../house/forecast.ts'
import { messageOf } from '../../text/message-of.ts'
import type { ForecastAnswer, ForecastInput } from './forecast.ts'

function answerTo({ register, ledger, now }: ForecastInput): ForecastAnswer {
  try {
    return { left: leftOf(register, ledger, now) }
  } catch (error) {
    return { error: messageOf(error) }
  }
}

parentPort?.on('message', (given: ForecastInput) => parentPort?.postMessage(answerTo(given)))
