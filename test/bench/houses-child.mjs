// One process of `bench houses`: keeps so many houses, real stores and a stand-in for the broker, and says what they cost.
import { mkdirSync, mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { keepHouses } from '../../dist/keeper/houses/keep-houses.js'
import { watchStalls } from './stall-watch.mjs'

const Database = createRequire(import.meta.url)('libsql')
setFlagsFromString('--expose-gc')
const collect = runInNewContext('gc')

const [kind, many] = [process.argv[2], Number(process.argv[3])]
const MARKS = 26
/** Words of each opening in the storm. */
const WORDS = 4
const QUIET_MILLISECONDS = 6_000
/** Rows of the bare databases: enough for a rate. */
const BARE_ROWS = 3_000

const pause = milliseconds => new Promise(done => setTimeout(done, milliseconds))
const folder = mkdtempSync(join(tmpdir(), 'sashtally-houses-'))
const nameOf = n => `h${String(n).padStart(4, '0')}`

/** What the process holds, megabytes, after the garbage was collected. */
function held() {
  collect()
  collect()
  const { rss, heapUsed } = process.memoryUsage()
  return { rss: rss / 1e6, heap: heapUsed / 1e6 }
}

/** Levels of a filter and of a topic. */
const matches = (f, t) =>
  f.every((level, n) => level === '#' || level === '+' || level === t[n]) && (f.at(-1) === '#' || f.length === t.length)

/** A broker of one house: what is published comes to everybody who listens to it, at once. */
class Bus {
  #feeds = new Set()
  #packetId = 0
  lastAt = performance.now()

  link() {
    let filters = []
    let listener
    const feed = {
      open: given => {
        listener = given
        setImmediate(() => given.link({ state: 'live', since: Date.now(), sessionPresent: false }))
      },
      listen: given => {
        filters = given.map(filter => filter.split('/'))
      },
      publish: async (topic, payload) => {
        this.lastAt = performance.now()
        const bytes = typeof payload === 'string' ? new TextEncoder().encode(payload) : payload
        setImmediate(() => void this.deliver(topic, bytes))
      },
      close: async () => void this.#feeds.delete(feed),
      take: (message, levels) =>
        filters.some(filter => matches(filter, levels)) ? listener?.heard(message) : undefined,
    }
    this.#feeds.add(feed)
    return feed
  }

  /** Resolves when everybody has acknowledged it. */
  deliver(topic, payload) {
    this.#packetId = (this.#packetId % 65_535) + 1
    const message = { topic, payload, retain: false, dup: false, qos: 1, packetId: this.#packetId }
    const levels = topic.split('/')
    return Promise.all([...this.#feeds].map(feed => feed.take(message, levels)))
  }
}

function bare() {
  const before = held()
  const started = performance.now()
  const stores = Array.from({ length: many }, (_, n) => {
    const sql = new Database(join(folder, `${nameOf(n)}.sqlite`))
    sql.pragma('journal_mode = WAL')
    sql.pragma('synchronous = FULL')
    sql.exec('create table entries (seq integer primary key, body text)')
    return sql.prepare('insert into entries (body) values (?)')
  })
  const startMilliseconds = performance.now() - started
  const after = held()
  const body = JSON.stringify({
    id: '0mwvze577-5mg8l093',
    at: new Date().toISOString(),
    mark: 'W1',
    what: 'opened',
    how: 'live',
  })
  const stormed = performance.now()
  for (let n = 0; n < BARE_ROWS; n++) stores[n % many].run([body])
  const wordsPerSecond = BARE_ROWS / ((performance.now() - stormed) / 1000)
  return { rss: after.rss, heap: after.heap, emptyRss: before.rss, startMilliseconds, wordsPerSecond }
}

const registerOf = name => `
house: ${name}
timezone: Europe/Lisbon
tally: ${name}/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 2 } }
openings:
${Array.from({ length: MARKS }, (_, n) => `  - { mark: W${n}, name: Window ${n}, sender: coin }`).join('\n')}
`

const sizeOf = path =>
  statSync(path).isDirectory()
    ? readdirSync(path).reduce((sum, name) => sum + sizeOf(join(path, name)), 0)
    : statSync(path).size

async function houses() {
  const [registers, data] = [join(folder, 'registers'), join(folder, 'data')]
  mkdirSync(registers)
  for (let n = 0; n < many; n++) writeFileSync(join(registers, `${nameOf(n)}.yaml`), registerOf(nameOf(n)))
  const buses = new Map()
  const stop = new AbortController()
  const told = []
  let atWork = 0
  const before = held()
  const begin = watchStalls(folder)
  const started = performance.now()
  const done = keepHouses({
    registers,
    folder: data,
    links: (_, name) => {
      const bus = buses.get(name) ?? new Bus()
      buses.set(name, bus)
      return { url: 'mqtt://127.0.0.1', link: () => bus.link() }
    },
    signal: stop.signal,
    tell: (text, code, house) => {
      if (code === 'at-work') atWork++
      else told.push(`${house}: ${text}`)
    },
  })
  while (atWork < many) await pause(10)
  const startMilliseconds = performance.now() - started
  const start = await begin.end()
  await quiet(buses)
  const after = held()
  const empty = sizeOf(data)

  const watch = watchStalls(folder)
  const stormed = performance.now()
  const acknowledged = []
  const word = new TextEncoder().encode('opened')
  for (let round = 0; round < WORDS; round++) {
    for (let n = 0; n < MARKS; n++) {
      for (const [name, bus] of buses) acknowledged.push(bus.deliver(`${name}/w${n}`, word))
      await pause(1)
    }
  }
  await Promise.all(acknowledged)
  const wordsPerSecond = acknowledged.length / ((performance.now() - stormed) / 1000)
  await quiet(buses)
  const storm = await watch.end()
  const later = held()
  const bytesAWord = (sizeOf(data) - empty) / acknowledged.length
  stop.abort()
  await done
  return {
    ...{ rss: after.rss, heap: after.heap, emptyRss: before.rss, startMilliseconds, wordsPerSecond, bytesAWord },
    ...{ rssAfterStorm: later.rss, heapAfterStorm: later.heap },
    ...{ start, storm, told },
  }
}

/** Readings and forecasts have gone out. */
async function quiet(buses) {
  const last = () => Math.max(...[...buses.values()].map(({ lastAt }) => lastAt))
  while (performance.now() - last() < QUIET_MILLISECONDS) await pause(100)
}

try {
  console.log(JSON.stringify(kind === 'bare' ? bare() : await houses()))
} finally {
  rmSync(folder, { recursive: true, force: true })
}
