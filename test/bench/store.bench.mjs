// Commands on a tally of years against a bare loop that parses its lines and inserts them; processor time, each in a process of its own.
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const ENTRIES = Number(process.env.SASHTALLY_BENCH_ENTRIES ?? 274_604)
const OPENINGS = 1000
const DAYS = 3 * 365
const BORN = Date.now() - DAYS * 86_400_000
/** Processor time that one look at 1,000 openings with three years of entries may take, seconds. */
const LOOK_SECONDS = 2.5

const REGISTER = `
house: Bench
timezone: Europe/Lisbon
tally: bench/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings:
${Array.from({ length: OPENINGS }, (_, n) => `  - { mark: W${n + 1}, name: Window ${n + 1}, sender: coin }`).join('\n')}
`

/** Opened and rest by turns; a new cell and its proof after twenty openings. */
function bodyOf(turn) {
  switch (turn % 43) {
    case 41:
      return { what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } }
    case 42:
      return { what: 'proved', how: 'live', revision: 'a1b2c3d4', joinMilliseconds: 3_800 }
    default:
      if ((turn % 43) % 2) return { what: 'rest', how: 'live', linkLiveSeconds: 86_400 }
      return { what: 'opened', how: 'live', millivolts: 2_800, boots: turn }
  }
}

function lineOf(n) {
  const at = BORN + Math.floor((DAYS * 86_400_000 * n) / ENTRIES)
  const id = `${at.toString(36).padStart(9, '0')}-${n.toString(36).padStart(8, '0')}`
  const mark = `W${(n % OPENINGS) + 1}`
  return `${JSON.stringify({ id, at: new Date(at).toISOString(), mark, ...bodyOf(Math.floor(n / OPENINGS)) })}\n`
}

/** Says at the end of a process, on the fourth stream, how much processor time it took. */
const METER = `data:text/javascript,${encodeURIComponent(
  "import { writeSync } from 'node:fs'; process.on('exit', () => { const { user, system } = process.cpuUsage(); writeSync(3, String((user + system) / 1e6)) })",
)}`

const BARE = `
  import { createRequire } from 'node:module'
  import { readFileSync } from 'node:fs'
  const Database = createRequire(process.argv[1])('libsql')
  const sql = new Database('bare.sqlite')
  sql.exec('pragma journal_mode = WAL; create table entries (seq integer primary key, id text unique, at integer, mark text, body text)')
  const insert = sql.prepare('insert into entries (id, at, mark, body) values (?, ?, ?, ?)')
  sql.exec('begin')
  for (const line of readFileSync('tally.jsonl', 'utf8').trimEnd().split('\\n')) {
    const { id, at, mark, ...rest } = JSON.parse(line)
    insert.run([id, Date.parse(at), mark, JSON.stringify(rest)])
  }
  sql.exec('commit')
  sql.close()
`

/** Processor time of a process, seconds. */
function secondsOf(folder, argv) {
  const done = spawnSync(process.execPath, ['--import', METER, ...argv], {
    cwd: folder,
    stdio: ['ignore', 'ignore', 'pipe', 'pipe'],
    maxBuffer: 2 ** 26,
  })
  if (done.status !== 0) throw new Error(`${argv.join(' ')}: ${done.stderr}`)
  return Number(done.output[3])
}

export async function run() {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-bench-'))
  const command = new URL('../../dist/cli/bin.js', import.meta.url).pathname
  const commandSeconds = (...argv) => secondsOf(folder, [command, ...argv])
  try {
    writeFileSync(join(folder, 'bench.yaml'), REGISTER)
    writeFileSync(join(folder, 'tally.jsonl'), Array.from({ length: ENTRIES }, (_, n) => lineOf(n)).join(''))
    const bare = secondsOf(folder, ['--input-type=module', '-e', BARE, new URL(import.meta.url).pathname])
    console.log(`${ENTRIES} entries of ${OPENINGS} openings; bare loop that parses and inserts   ${bare.toFixed(2)} s`)
    const tell = (name, seconds, most) => {
      const limit = most === undefined ? '' : ` (at most ${most} s)  ${seconds <= most ? 'met' : 'NOT MET'}`
      console.log(`${name.padEnd(36)} ${seconds.toFixed(2)} s, ${(seconds / bare).toFixed(2)} of the bare loop${limit}`)
    }
    tell('import', commandSeconds('import', 'bench.yaml', 'tally.jsonl', '--data', 'data'))
    tell('tally --data, just imported', commandSeconds('tally', 'bench.yaml', '--data', 'data', '--json'), LOOK_SECONDS)
    tell('forecast --data', commandSeconds('forecast', 'bench.yaml', '--data', 'data', '--json'), LOOK_SECONDS)
    tell('tally --tally', commandSeconds('tally', 'bench.yaml', '--tally', 'tally.jsonl', '--json'))
    tell(
      'tally --tally --since',
      commandSeconds('tally', 'bench.yaml', '--tally', 'tally.jsonl', '--since', '2026-11-01'),
    )
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
