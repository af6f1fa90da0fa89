// Many houses in one process against as many bare databases: memory, start, words a second to the disk, longest stall, growth.
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'

const CHILD = fileURLToPath(new URL('./houses-child.mjs', import.meta.url))
const SIZES = (process.env.SASHTALLY_BENCH_HOUSES ?? '10 100 300').split(' ').map(Number)
/** No house may stop the others for longer. */
const STALL_MILLISECONDS = 50

function measured(kind, many) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [CHILD, kind, String(many)], { encoding: 'utf8' })
  if (status !== 0) throw new Error(stderr)
  return JSON.parse(stdout)
}

/** By how much `value` grows a house: least squares. */
function slope(rows, value) {
  const mean = list => list.reduce((sum, each) => sum + each, 0) / list.length
  const [x, y] = [mean(rows.map(({ many }) => many)), mean(rows.map(value))]
  const up = rows.reduce((sum, row) => sum + (row.many - x) * (value(row) - y), 0)
  return up / rows.reduce((sum, { many }) => sum + (many - x) ** 2, 0)
}

const ms = milliseconds => `${milliseconds.toFixed(milliseconds < 10 ? 1 : 0)} ms`

/** What stopped the event loop, and what of it is not the program's. */
function stallLines(when, { longest: { stall, work: worked, waited }, p99, work, collection, flush }, limit) {
  const rest = Math.max(0, stall - worked - waited)
  const parts = Number.isNaN(worked)
    ? ''
    : `: ${ms(worked)} work, ${ms(waited)} without a processor, ${ms(rest)} the disk or what else is waited for`
  const verdict = limit === undefined ? '' : `  ${stall < limit ? 'ok' : `MISSED ${limit} ms`}`
  return [
    `  longest stall in ${when} ${ms(stall)}${parts}${verdict}`,
    `    99 in 100 under ${ms(p99)}; longest work in one go ${ms(work)}, longest garbage collection ${ms(collection)}; ${flush.count} bare flushes of the disk beside it: half under ${ms(flush.p50)}, 99 in 100 under ${ms(flush.p99)}, longest ${ms(flush.longest)}`,
  ]
}

export async function run() {
  const rows = []
  for (const many of SIZES) {
    const [bare, kept] = [measured('bare', many), measured('houses', many)]
    rows.push({ many, bare, kept })
    console.log(`${many} houses of 26 openings`)
    console.log(
      `  memory ${kept.rss.toFixed(0)} MB (heap ${kept.heap.toFixed(0)}), after the storm ${kept.rssAfterStorm.toFixed(0)} MB (${kept.heapAfterStorm.toFixed(0)}); as many bare databases ${bare.rss.toFixed(0)} MB`,
    )
    console.log(`  start ${(kept.startMilliseconds / 1000).toFixed(1)} s`)
    console.log(
      `  storm ${kept.wordsPerSecond.toFixed(0)} words/s to the disk, bare rows one by one ${bare.wordsPerSecond.toFixed(0)}/s, ratio ${(kept.wordsPerSecond / bare.wordsPerSecond).toFixed(2)}; ${kept.bytesAWord.toFixed(0)} bytes a word`,
    )
    for (const line of stallLines('the start', kept.start)) console.log(line)
    for (const line of stallLines('the storm and its forecasts', kept.storm, STALL_MILLISECONDS)) console.log(line)
    if (kept.told.length > 0) console.log(`  told: ${kept.told.slice(0, 3).join('; ')} (${kept.told.length} lines)`)
  }
  if (rows.length < 2) return
  const memory = slope(rows, row => row.kept.rss)
  const stormed = slope(rows, row => row.kept.rssAfterStorm)
  const bare = slope(rows, row => row.bare.rss)
  const start = slope(rows, row => row.kept.startMilliseconds)
  const last = rows.at(-1)
  const process = last.kept.rss - last.many * memory
  console.log(
    `growth a house: ${memory.toFixed(2)} MB (${stormed.toFixed(2)} after the storm), a bare database ${bare.toFixed(2)} MB, ratio ${(memory / bare).toFixed(1)}; start ${start.toFixed(0)} ms`,
  )
  const sizes = `${SIZES[0]} to ${SIZES.at(-1)} houses`
  console.log(`for the page in DEVELOPERS.md:
| memory | ${memory.toFixed(1)} MB, ${stormed.toFixed(1)} MB after a storm (heap ${slope(rows, row => row.kept.heap).toFixed(2)} and ${slope(rows, row => row.kept.heapAfterStorm).toFixed(2)}), on ${process.toFixed(0)} MB of the process | ${((process + 1000 * memory) / 1000).toFixed(1)} to ${((process + 1000 * stormed) / 1000).toFixed(1)} GB | ${sizes} |
| start | ${start.toFixed(0)} ms, its first (the tally is made) | ${start.toFixed(0)} s | ${sizes} |
| words | ${last.kept.wordsPerSecond.toFixed(0)} a second in all | the same | ${last.many} houses at once; bare rows one by one: ${last.bare.wordsPerSecond.toFixed(0)} |
| longest stall | ${ms(last.kept.storm.longest.stall)}; work in one go ${ms(last.kept.storm.work)} | not tried | ${last.many} houses; the disk's longest bare flush meanwhile ${ms(last.kept.storm.flush.longest)} |`)
}
