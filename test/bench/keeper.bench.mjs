// The keeper against a bare loop on the same disk, a bare subscriber and a bare echo on the same broker; a million entries.
import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setFlagsFromString } from 'node:v8'
import { runInNewContext } from 'node:vm'
import { policyOf } from '../../dist/house/policy.js'
import { systemClock } from '../../dist/keeper/clock.js'
import { Keeper } from '../../dist/keeper/keeper.js'
import { ledgerRules, openLedger } from '../../dist/keeper/store/rules.js'
import { TallyStore } from '../../dist/keeper/store/store.js'
import { apply, startLedger } from '../../dist/ledger/apply.js'
import { mqttFeed } from '../../dist/link/mqtt-feed.js'
import { connectNode } from '../../dist/link/node/package-connection.js'
import { parseRegister } from '../../dist/register/parse.js'

const Database = createRequire(import.meta.url)('libsql')
setFlagsFromString('--expose-gc')
const collect = runInNewContext('gc')

const MILLION = Number(process.env.SASHTALLY_BENCH_ENTRIES ?? 1_000_000)
const WORDS = 20_000
const MARKS = 26

const REGISTER = `
house: Bench
timezone: Europe/Lisbon
tally: bench/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, json: { word: /word, boots: /boots } } }
openings:
${Array.from({ length: MARKS }, (_, n) => `  - { mark: W${n + 1}, name: Window ${n + 1}, sender: coin }`).join('\n')}
`
const { register } = parseRegister(REGISTER)
const policy = policyOf(register)
const pause = milliseconds => new Promise(done => setTimeout(done, milliseconds))
const perSecond = (count, milliseconds) => Math.round(count / (milliseconds / 1000))
const median = list => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)]

async function freePort() {
  const server = createServer()
  await new Promise(done => server.listen(0, '127.0.0.1', done))
  const { port } = server.address()
  await new Promise(done => server.close(done))
  return port
}

async function startBroker(folder) {
  const port = await freePort()
  const file = join(folder, 'mosquitto.conf')
  const lines = [
    'listener PORT 127.0.0.1',
    'allow_anonymous true',
    'max_queued_messages 0',
    'set_tcp_nodelay true',
    'log_type error',
  ]
  if (process.getuid?.() === 0) lines.unshift('user root')
  writeFileSync(file, `${lines.join('\n').replace('PORT', port)}\n`)
  const child = spawn('mosquitto', ['-c', file], {
    stdio: 'ignore',
    env: { ...process.env, PATH: `${process.env.PATH}:/usr/sbin` },
  })
  await new Promise((done, failed) => {
    child.once('error', failed)
    setTimeout(done, 500)
  })
  return { url: `mqtt://127.0.0.1:${port}`, stop: () => child.kill() }
}

/** An open link; `live` resolves when it is up. */
function link(url, options, heard) {
  const feed = mqttFeed({ url, connect: connectNode(), ...options })
  const live = new Promise(done => feed.open({ heard, link: ({ state }) => state === 'live' && setTimeout(done, 30) }))
  return { feed, live }
}

/** Makes a session that subscribes to the contacts, and leaves it. */
async function leaveSession(url, clientId) {
  const { feed, live } = link(url, { clientId, clean: false }, () => {})
  feed.listen(register.openings.map(({ topic }) => topic))
  await live
  await pause(200)
  await feed.close()
}

async function publishWords(url, count) {
  const { feed, live } = link(url, {}, () => {})
  await live
  for (let n = 0; n < count; n += 500) {
    await Promise.all(
      Array.from({ length: 500 }, (_, m) =>
        feed.publish(
          register.openings[(n + m) % MARKS].topic,
          `{"word":"opened","boots":${Math.floor((n + m) / MARKS)}}`,
        ),
      ),
    )
  }
  await feed.close()
}

function bareLoop(folder) {
  const sql = new Database(join(folder, 'bare.sqlite'))
  sql.pragma('journal_mode = WAL')
  sql.pragma('synchronous = FULL')
  sql.exec('create table entries (seq integer primary key, body text)')
  const insert = sql.prepare('insert into entries (body) values (?)')
  const body = JSON.stringify({
    id: '0mwvze577-5mg8l093',
    at: new Date().toISOString(),
    mark: 'W01',
    what: 'opened',
    how: 'live',
    boots: 7,
  })
  for (let n = 0; n < 200; n++) insert.run([body])
  const started = performance.now()
  for (let n = 0; n < 5_000; n++) insert.run([body])
  const rate = perSecond(5_000, performance.now() - started)
  sql.close()
  return rate
}

async function bareSubscriber(url) {
  await leaveSession(url, 'barebench')
  await publishWords(url, WORDS)
  let count = 0
  let first = 0
  const all = new Promise(done => {
    const { feed } = link(url, { clientId: 'barebench', clean: false }, () => {
      first ||= performance.now()
      if (++count === WORDS) done({ feed, milliseconds: performance.now() - first })
    })
    feed.listen(register.openings.map(({ topic }) => topic))
  })
  const { feed, milliseconds } = await all
  await feed.close()
  return perSecond(WORDS, milliseconds)
}

function startKeeper(url, folder) {
  const store = TallyStore.open(join(folder, 'data'), 'write', ledgerRules(policy))
  const startedIso = new Date().toISOString()
  store.begin(startedIso)
  const ledger = openLedger(store, policy, startedIso)
  const feed = mqttFeed({ url, connect: connectNode(), clientId: 'keeperbench', clean: false, receiveMaximum: 100 })
  const keeper = new Keeper({
    register,
    store,
    ledger,
    feed,
    clock: systemClock,
    keeper: 'bench',
    waits: 'beside',
    startedIso,
    tell: () => {},
  })
  keeper.start()
  return { keeper, store }
}

async function keeperRate(url, folder) {
  await leaveSession(url, 'keeperbench')
  await publishWords(url, WORDS)
  const { keeper, store } = startKeeper(url, folder)
  let first = 0
  while (store.length < WORDS) {
    if (store.length > 0) first ||= performance.now()
    await pause(1)
  }
  const rate = perSecond(WORDS, performance.now() - first)
  return { keeper, store, rate }
}

/** Median time from a publish to what comes of it: the retained reading, or the same word from an echo client. */
async function delays(url) {
  const waiting = new Map()
  const reading = register.openings.map(({ mark }) => `bench/tally/opening/${mark}`)
  const { feed, live } = link(url, {}, ({ topic, retain }) => !retain && waiting.get(topic)?.())
  feed.listen([...reading, 'bench/echoed'])
  await live
  const echo = link(url, {}, () => void echo.feed.publish('bench/echoed', '1', { retain: true }))
  echo.feed.listen(['bench/echo'])
  await echo.live
  await pause(300)
  const time = async (topic, payload, answer) => {
    const started = performance.now()
    const came = new Promise(done => waiting.set(answer, done))
    await feed.publish(topic, payload)
    await came
    waiting.delete(answer)
    return performance.now() - started
  }
  const [readings, echoes] = [[], []]
  for (let n = 0; n < 200; n++) {
    const { topic } = register.openings[n % MARKS]
    readings.push(await time(topic, `{"word":"opened","boots":${100_000 + n}}`, reading[n % MARKS]))
    echoes.push(await time('bench/echo', '1', 'bench/echoed'))
  }
  await feed.close()
  await echo.feed.close()
  return { reading: median(readings), echo: median(echoes) }
}

/** Opened and rest by turns, and a new cell after twenty openings. */
const wordOf = turn => (turn % 41 === 40 ? 'cell-fitted' : (turn % 41) % 2 ? 'rest' : 'opened')

/** Fills a store as the keeper does, and says how much memory is held on the way. */
async function fill(folder, count) {
  const store = TallyStore.open(folder, 'write', ledgerRules(policy))
  const born = Date.UTC(2026, 0, 1)
  store.begin(new Date(born).toISOString())
  let ledger = startLedger(policy, new Date(born).toISOString())
  const heap = []
  for (let n = 0; n < count; n += 100) {
    const entries = Array.from({ length: 100 }, (_, m) => {
      const at = born + (n + m) * 20_000
      return {
        id: `${at.toString(36)}-${(n + m).toString(36).padStart(8, '0')}`,
        at: new Date(at).toISOString(),
        mark: register.openings[(n + m) % MARKS].mark,
        what: wordOf(Math.floor((n + m) / MARKS)),
        how: 'live',
        boots: n,
      }
    })
    for (const entry of entries) ledger = apply(ledger, entry)
    store.commitBatch({ entries, kept: ledger })
    if ((n + 100) % Math.max(100, count / 10) === 0) {
      collect()
      heap.push(Math.round(process.memoryUsage().heapUsed / 1e5) / 10)
    }
  }
  await store.close()
  return heap
}

/** From the start of the process to the readings. */
function startTime(folder, data) {
  const command = new URL('../../dist/cli/bin.js', import.meta.url).pathname
  const started = performance.now()
  const done = spawnSync(process.execPath, [command, 'tally', join(folder, 'bench.yaml'), '--data', data, '--json'])
  if (done.status !== 0) throw new Error(done.stderr.toString())
  return performance.now() - started
}

function openTime(folder) {
  const started = performance.now()
  const store = TallyStore.open(folder, 'write', ledgerRules(policy))
  openLedger(store, policy, new Date().toISOString())
  const milliseconds = performance.now() - started
  void store.close()
  return milliseconds
}

export async function run() {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-bench-'))
  const broker = await startBroker(folder)
  try {
    const bare = bareLoop(folder)
    const subscriber = await bareSubscriber(broker.url)
    const { keeper, store, rate } = await keeperRate(broker.url, folder)
    console.log(`bare loop, one row a commit, full sync   ${bare} rows/s`)
    console.log(`bare subscriber that only counts         ${subscriber} words/s`)
    console.log(`keeper, durable entries from MQTT        ${rate} words/s`)
    console.log(
      `  against the bare loop   ${(rate / bare).toFixed(2)} (at least 0.7)  ${rate / bare >= 0.7 ? 'met' : 'NOT MET'}`,
    )
    console.log(`  against the subscriber  ${(rate / subscriber).toFixed(2)}`)
    const { reading, echo } = await delays(broker.url)
    console.log(
      `publish to retained reading ${reading.toFixed(2)} ms, bare echo ${echo.toFixed(2)} ms, ratio ${(reading / echo).toFixed(2)} (medians)`,
    )
    await keeper.stop()
    await store.close()

    const [small, large] = [join(folder, 'small'), join(folder, 'large')]
    await fill(small, 1_000)
    const heap = await fill(large, MILLION)
    const size = statSync(join(large, 'tally.sqlite')).size
    console.log(
      `memory held at each tenth of ${MILLION} entries: ${heap.join(', ')} MB; last over second ${(heap.at(-1) / heap[1]).toFixed(2)}`,
    )
    console.log(`store: ${(size / MILLION).toFixed(0)} bytes an entry`)
    writeFileSync(join(folder, 'bench.yaml'), REGISTER)
    const [opening, times] = [
      { small: [], large: [] },
      { small: [], large: [] },
    ]
    for (let n = 0; n < 9; n++) {
      for (const [name, store] of [
        ['small', small],
        ['large', large],
      ]) {
        opening[name].push(openTime(store))
        times[name].push(startTime(folder, store))
      }
    }
    const [few, many] = [median(times.small), median(times.large)]
    console.log(
      `of that, opening the store: ${median(opening.small).toFixed(1)} and ${median(opening.large).toFixed(1)} ms (the snapshot holds the last 256 entries an opening)`,
    )
    console.log(
      `process start to readings with 1,000 entries ${few.toFixed(1)} ms, with ${MILLION} ${many.toFixed(1)} ms: ${(many / few).toFixed(2)} (under 2)  ${many / few < 2 ? 'met' : 'NOT MET'}`,
    )
  } finally {
    broker.stop()
    rmSync(folder, { recursive: true, force: true })
  }
}
