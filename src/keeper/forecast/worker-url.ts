/** The file of the thread that forecasts, beside this one. */
export const workerUrl = new URL('./forecast-worker.js', import.meta.url)
