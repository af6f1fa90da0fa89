import { join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'

export const WORKER_FILE = join(resolve(import.meta.dirname, '../..'), '.tmp', 'forecast-worker.mjs')
export const workerUrl = pathToFileURL(WORKER_FILE)
