// What a browser never uses of mqtt and its streams, so that the one-file card does not carry it.
// Each line: the folder of the importing module, the import as written there, and what it gets instead.
import { fileURLToPath } from 'node:url'

const here = name => fileURLToPath(new URL(name, import.meta.url))

const nothing = 'export default undefined;'
const quiet = 'const n = () => {};'

const table = [
  // Sockets, proxies, workers and platforms that are not a browser page.
  [/mqtt/, /^(ws|\.\/(wx|ali|tcp|tls|socks)|\.\/unique-message-id-provider)$/, nothing],
  [/mqtt/, /^worker-timers$/, 'export const setInterval = globalThis.setInterval, clearInterval = globalThis.clearInterval;'],
  [/mqtt/, /\/is-browser$/, 'export default true; export const isWebWorker = false, isReactNativeBrowser = false;'],
  [/mqtt/, /\/package\.json$/, 'export default { version: "browser" };'],
  [/mqtt/, /^debug$/, 'export default () => () => {};'],
  [/mqtt-packet/, /^process-nextick-args$/, 'export const nextTick = (run, ...args) => queueMicrotask(() => run(...args));'],
  [/./, /^buffer$/, `export { Buffer } from ${JSON.stringify(here('buffer.mjs'))};`],
  [/mqtt/, /^url$/, 'export default { parse: text => { const url = new URL(text); return { protocol: url.protocol, hostname: url.hostname, port: url.port || null, path: url.pathname + url.search, query: {}, auth: null } } };'],
  // Topic aliases of this size are only made when asked for; a plain map does.
  [/mqtt/, /^lru-cache$/, `export { LRUCache } from ${JSON.stringify(here('lru.mjs'))};`],
  // The four stream classes without operators, pipelines, validators and text decoding.
  [/./, /^(node:stream|stream|readable-stream)$/, `export * from ${JSON.stringify(here('streams.mjs'))};`],
  [/readable-stream/, /\/(from|compose|duplexify|end-of-stream)$/, nothing],
  [/readable-stream/, /\/operators$/, 'export default {};'],
  [/readable-stream/, /\/add-abort-signal$/, 'export const addAbortSignal = x => x, addAbortSignalNoValidate = x => x;'],
  [/readable-stream/, /\/validators$/, `${quiet} export { n as validateObject, n as validateFunction, n as validateAbortSignal, n as validateBoolean, n as validateInteger };`],
  [/readable-stream/, /ours\/util$/, 'export const debuglog = () => () => {}, inspect = String, types = {};'],
  [/readable-stream/, /ours\/errors$/, 'export class AbortError extends Error {} export const aggregateTwoErrors = (a, b) => a ?? b, hideStackFrames = f => f, codes = new Proxy({}, { get: (_, code) => class extends Error { constructor(text) { super(`${code} ${text ?? ""}`); this.code = code } } });'],
  [/readable-stream/, /^string_decoder\/$/, 'export const StringDecoder = undefined;'],
  [/readable-stream/, /^process\/$/, 'export default { nextTick: (run, ...args) => queueMicrotask(() => run(...args)), env: {} };'],
  [/readable-stream/, /^abort-controller$/, 'export const AbortController = globalThis.AbortController, AbortSignal = globalThis.AbortSignal;'],
]

export function spare() {
  const mqtt = here('mqtt.mjs')
  return {
    name: 'spare',
    resolveId(id, from) {
      if (id === 'mqtt') return mqtt
      if (!from) return null
      const importer = from.replace(/^\0/, '')
      const folder = /node_modules\/((?:@[^/]+\/)?[^/]+)\/[^\0]*$/.exec(importer)?.[1] ?? 'src'
      const found = table.findIndex(([where, what]) => where.test(folder) && what.test(id))
      return found < 0 ? null : { id: `\0spare:${found}`, moduleSideEffects: false }
    },
    load(id) {
      const found = /^\0spare:(\d+)$/.exec(id)
      return found ? table[Number(found[1])][2] : null
    },
  }
}
