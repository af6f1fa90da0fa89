// What a browser never uses of mqtt, yaml, zod and idb, so that the one-file card does not carry it.
// Each line: the package of the importing module, the import as written there, and what it gets instead.
import { fileURLToPath } from 'node:url'

const here = name => fileURLToPath(new URL(name, import.meta.url))
const all = name => `export * from ${JSON.stringify(here(name))};`
const both = name => `${all(name)} export { default } from ${JSON.stringify(here(name))};`
/** Functions that are imported and never called here. */
const never = (...names) => `const n = () => {}; export { ${names.map(name => `n as ${name}`).join(', ')} };`

const table = [
  // A worker from a blob is what a strict policy forbids.
  [/^mqtt$/, /\/get-timer$/, 'export default () => ({ set: (run, ms) => setInterval(run, ms), clear: id => clearInterval(id) });'],
  [/^mqtt$/, /\/is-browser$/, 'export default true; export const isWebWorker = false, isReactNativeBrowser = false;'],
  [/^mqtt$/, /^rfdc\/default$/, 'export default packet => ({ ...packet });'],
  // Enhanced authentication is not offered.
  [/^mqtt$/, /^\.\/auth$/, 'export default client => { client._cleanUp(true); client.emit("error", new Error("the broker asked for an exchange that was not offered")) };'],
  [/^mqtt$/, /^\.\/pubrel$/, 'export default (client, packet, done) => done();'],
  [/^mqtt$/, /\/package\.json$/, 'export default { version: "browser" };'],
  [/^mqtt/, /^debug$/, 'export default () => () => {};'],
  [/^mqtt/, /^events$/, both('events.mjs')],
  [/^mqtt/, /^buffer$/, all('buffer.mjs')],
  [/^mqtt/, /^bl$/, both('bl.mjs')],
  [/^mqtt$/, /^readable-stream$/, all('streams.mjs')],
  // Topic aliases are never asked for, in or out.
  [/^mqtt$/, /\/topic-alias-recv$/, 'export default class {};'],
  [/^mqtt$/, /\/topic-alias-send$/, 'export default class {};'],
  [/^src$/, /^@noble\/hashes\//, all('sha256.mjs')],
  // Packets are written to the stream, never made into one buffer.
  [/^mqtt-packet$/, /^\.\/generate$/, 'export default () => {};'],
  [/^mqtt-packet$/, /^process-nextick-args$/, 'export const nextTick = (run, ...args) => queueMicrotask(() => run(...args));'],
  // The card reads YAML and never writes it; YAML 1.1 has no meaning of its own here.
  [/^yaml$/, /\/foldFlowLines\.js$/, `${never('foldFlowLines')} export const FOLD_BLOCK = '', FOLD_FLOW = '', FOLD_QUOTED = '';`],
  [/^yaml$/, /\/stringify\.js$/, never('stringify', 'createStringifyContext')],
  [/^yaml$/, /\/stringifyString\.js$/, never('stringifyString')],
  [/^yaml$/, /\/stringifyPair\.js$/, never('stringifyPair')],
  [/^yaml$/, /\/stringifyCollection\.js$/, never('stringifyCollection')],
  [/^yaml$/, /\/stringifyDocument\.js$/, never('stringifyDocument')],
  [/^yaml$/, /\/stringifyNumber\.js$/, never('stringifyNumber')],
  [/^yaml$/, /\/stringifyComment\.js$/, never('stringifyComment', 'lineComment', 'indentComment')],
  [/^yaml$/, /\/createNode\.js$/, never('createNode')],
  [/^yaml$/, /\/applyReviver\.js$/, never('applyReviver')],
  [/^yaml$/, /\/line-counter\.js$/, 'export class LineCounter {}'],
  [/^yaml$/, /\/visit\.js$/, never('visit', 'visitAsync')],
  [/^yaml$/, /yaml-1\.1\/schema\.js$/, 'export const schema = [];'],
  [/^yaml$/, /yaml-1\.1\/binary\.js$/, 'export const binary = {};'],
  [/^yaml$/, /yaml-1\.1\/(omap|pairs|set)\.js$/, 'export const omap = {}, pairs = {}, set = {};'],
  [/^yaml$/, /yaml-1\.1\/timestamp\.js$/, 'export const intTime = {}, floatTime = {}, timestamp = {};'],
  [/^yaml$/, /json\/schema\.js$/, 'export const schema = [];'],
]

/** A method of a class, from its name to the closing brace at its own indent. */
const method = (indent, name) => new RegExp(`\\n {${indent}}${name} ?\\([^]*?\\n {${indent}}\\}\\n`)

/** What a server parses and writes, what nobody calls here, and tables of names that are only looked up. */
const gone = (file, ...names) => ({ [file]: names.map(name => [method(4, name), '\n']) })

const UNUSED = {
  // A register is read from the nodes that the composer makes; nothing asks them for values, or changes them.
  ...gone(
    'yaml/browser/dist/doc/Document.js',
    ...['clone', 'add', 'addIn', 'createAlias', 'createNode', 'createPair', 'delete', 'deleteIn', 'get', 'getIn'],
    ...['has', 'hasIn', 'set', 'setIn', 'toJS', 'toJSON', 'toString'],
  ),
  ...gone(
    'yaml/browser/dist/nodes/Collection.js',
    ...['clone', 'addIn', 'deleteIn', 'getIn', 'hasAllNullValues', 'hasIn', 'setIn'],
  ),
  ...gone('yaml/browser/dist/nodes/YAMLMap.js', 'static from', 'add', 'delete', 'get', 'has', 'set', 'toJSON', 'toString'),
  ...gone('yaml/browser/dist/nodes/YAMLSeq.js', 'static from', 'add', 'delete', 'get', 'has', 'set', 'toJSON', 'toString'),
  ...gone('yaml/browser/dist/nodes/Alias.js', 'resolve', 'toJSON', 'toString'),
  ...gone('yaml/browser/dist/nodes/Pair.js', 'clone', 'toJSON', 'toString'),
  ...gone('yaml/browser/dist/nodes/Node.js', 'clone', 'toJS'),
  'yaml/browser/dist/errors.js': [[/const prettifyError = [^]*?\n\};\n/, 'const prettifyError = () => () => {};\n']],
  ...gone('yaml/browser/dist/doc/directives.js', 'tagString', 'toString'),
  'mqtt-packet/parser.js': ['_parseConnect', '_parseSubscribe', '_parseUnsubscribe'].map(name => [
    method(2, name),
    `\n  ${name} () { this._emitError(new Error('Not supported')) }\n`,
  ]),
  'mqtt-packet/writeToStream.js': ['connack', 'suback', 'unsuback', 'auth'].map(name => [
    `return ${name}(packet, stream, opts)`,
    'return false',
  ]),
  'mqtt-packet/constants.js': [[/(0x[0-9a-f]{2}): '[^'\n]*'/gi, '$1: 1']],
  // Short cuts on the database, and loops over a cursor.
  'idb/build/index.js': [[/const readMethods = [^]*(?=export \{)/, '']],
  'mqtt/build/lib/handlers/ack.js': [
    [/exports\.ReasonCodes = \{[^]*?\n\};/, "exports.ReasonCodes = new Proxy({}, { get: (_, code) => 'reason code ' + code });"],
  ],
  // Topic aliases are never asked for; and nothing is subscribed to above QoS 1.
  'mqtt/build/lib/handlers/publish.js': [
    [
      /if \(client\.options\.protocolVersion === 5\) \{[^]*?\n {4}\}\n/,
      "if (packet.properties?.topicAlias !== undefined) return rejectTopicAlias(client, 'Received a topic alias that was not asked for', done, pump);\n",
    ],
    [/case 2: \{[^]*?\n {8}\}\n/, 'case 2: done(); break;\n'],
  ],
  'mqtt/build/lib/handlers/connack.js': [[/if \(packet\.properties\) \{[^]*?\n {4}\}\n/, '\n']],
  'mqtt/build/lib/client.js': [
    ...['publishAsync', 'subscribeAsync', 'unsubscribeAsync', 'endAsync', 'removeOutgoingMessage', 'reconnect'].map(
      name => [method(4, name), '\n'],
    ),
    ...['_applyTopicAlias', '_removeTopicAliasAndRecoverTopicName'].map(name => [method(4, name), `\n    ${name}() {}\n`]),
    // Each attempt is a new client: it never dials again by itself, and has nothing of an earlier one to send or to ask for.
    ...['_reconnect', '_setupReconnect', '_clearReconnect', '_resubscribe'].map(name => [method(4, name), `\n    ${name}() {}\n`]),
    ...['_invokeAllStoreProcessingQueue', '_invokeStoreProcessingQueue', '_flushStoreProcessingQueue'].map(name => [
      method(4, name),
      `\n    ${name}() {}\n`,
    ]),
    [/if \(options\.properties && options\.properties\.topicAliasMaximum > 0\) \{[^]*?\n {8}\}\n/, '\n'],
    [/if \(this\.topicAliasRecv\) \{[^]*?\n {12}\}\n/, '\n'],
    // Topics come as a list, and each attempt subscribes anew.
    [/if \(typeof topicObject === 'string'\) \{[^]*?(?=\n {8}const invalidTopic)/, 'topicsList = topicObject;'],
    [/else \{\n {12}Object\.keys\(topicObject\)\.forEach[^]*?\n {8}\}\n/, '\n'],
    [/if \(this\.options\.resubscribe\) \{[^]*?\n {12}\}\n/, '\n'],
    [/if \(this\.options\.resubscribe\) \{[^]*?\n {12}\}\n/, '\n'],
    [/const startStreamProcess = \(\) => \{[^]*?startStreamProcess\(\);\n {4}\}/, "this.emit('connect', packet);\n    }"],
  ],
  ...gone('mqtt/build/lib/store.js', 'createStream', 'get'),
  // What was read is checked at once (`safeParse`): no check of the register waits for anything, and nothing is written back.
  'zod/v4/core/parse.js': ['_parse', '_parseAsync', '_safeParseAsync'].map(name => [
    new RegExp(`const ${name} = [^]*?\\n\\};\\n`),
    `const ${name} = () => {};\n`,
  ]),
  'zod/v4/core/schemas.js': [
    [/if \(_ instanceof Promise && [^]*?\n {16}else \{/, '{'],
    [/if \(asyncResult\) \{[^]*?\n {12}\}\n/, '\n'],
    [/const handleCanaryResult = [^]*?\n {8}\};\n/, '\n'],
    [/if \(ctx\.skipChecks\) \{[^]*?(?=\/\/ forward)/, '\n'],
    [/if \(result instanceof Promise\) \{[^]*?\n {12}\}\n/, '\n'],
    [/function standardProps\(inst\) \{[^]*?\n\}\n/, 'function standardProps() {}\n'],
    // No union tells its members apart by a key, and keys of a map are any text.
    [/util\.defineLazyInternal\(inst, "propValues", \(zod\) => \{\n {8}const shape[^]*?\n {4}\}\);\n/, '\n'],
    [/if \(values && !def\.partial\) \{[^]*?\n {8}\}\n {8}else \{/, '{'],
  ],
  // Nothing asks an error for more than its issues.
  'zod/v4/core/errors.js': [
    [/const proto = Object\.getPrototypeOf\(inst\);[^]*?\n {4}\}\n/, '\n'],
    ['Object.defineProperty(inst, "message", _messageDesc);', ''],
  ],
  'zod/v4/core/core.js': [
    [/function newError\(Definition\) \{[^]*?\n\}\n/, 'function newError(Definition) { return new Definition(); }\n'],
    [/const pp = globalThis[^]*?pp\(inst\);\n/, '\n'],
    [/const proto = _\.prototype;[^]*?\n {8}\}\n/, '\n'],
  ],
}

function withoutUnused(code, id) {
  const parts = Object.entries(UNUSED).find(([file]) => id.endsWith(file))?.[1] ?? []
  return parts.reduce((text, [found, instead]) => {
    const next = text.replace(found, instead)
    if (next === text) throw new Error(`${id} has no ${found} any more: look at .config/browser/spare.mjs`)
    return next
  }, code)
}

/** Lines of the client and the parser that only write to a log. */
const LOG = /^\s*(?:(?:this|client|this\.client)\.)?(?:log|debug)\(.*\);?$/gm

const withoutLog = (code, id) => (/\/(yaml|zod)\//.test(id) ? code : code.replace(LOG, ';'))

export function spare() {
  return {
    name: 'spare',
    resolveId(id, from) {
      if (id === 'mqtt') return here('mqtt.mjs')
      const importer = /node_modules\/((?:@[^/]+\/)?[^/]+)\/[^\0]*$/.exec(from ?? '')?.[1] ?? 'src'
      const found = table.findIndex(([where, what]) => where.test(importer) && what.test(id))
      return found < 0 ? null : { id: `\0spare:${found}`, moduleSideEffects: false }
    },
    load(id) {
      const found = /^\0spare:(\d+)$/.exec(id)
      return found ? table[Number(found[1])][2] : null
    },
    transform(code, id) {
      return /node_modules\/(idb|mqtt|mqtt-packet|yaml|zod)\//.test(id) ? { code: withoutLog(withoutUnused(code, id), id), map: null } : null
    },
  }
}
