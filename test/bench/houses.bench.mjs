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

export async function run() {
  const rows = SIZES.map(many => ({ many, bare: measured('bare', many), kept: measured('houses', many) }))
  for (const { many, bare, kept } of rows) {
    console.log(`${many} houses of 26 openings`)
    console.log(
      `  memory ${kept.rss.toFixed(0)} MB (heap ${kept.heap.toFixed(0)}), after the storm ${kept.rssAfterStorm.toFixed(0)} MB (${kept.heapAfterStorm.toFixed(0)}); as many bare databases ${bare.rss.toFixed(0)} MB`,
    )
    console.log(
      `  start ${(kept.startMilliseconds / 1000).toFixed(1)} s, longest stall in it ${kept.startStall.toFixed(0)} ms`,
    )
    console.log(
      `  storm ${kept.wordsPerSecond.toFixed(0)} words/s to the disk, bare rows ${bare.wordsPerSecond.toFixed(0)}/s, ratio ${(kept.wordsPerSecond / bare.wordsPerSecond).toFixed(2)}; ${kept.bytesAWord.toFixed(0)} bytes a word`,
    )
    console.log(
      `  longest stall in the storm and its forecasts ${kept.stormStall.toFixed(0)} ms, 99 in 100 under ${kept.stormP99.toFixed(0)} ms (under ${STALL_MILLISECONDS})  ${kept.stormStall < STALL_MILLISECONDS ? 'met' : 'NOT MET'}`,
    )
    if (kept.told.length > 0) console.log(`  told: ${kept.told.slice(0, 3).join('; ')} (${kept.told.length} lines)`)
  }
  if (rows.length < 2) return
  const kept = slope(rows, row => row.kept.rss)
  const bare = slope(rows, row => row.bare.rss)
  console.log(
    `growth a house: ${kept.toFixed(2)} MB (${slope(rows, row => row.kept.rssAfterStorm).toFixed(2)} after the storm), a bare database ${bare.toFixed(2)} MB, ratio ${(kept / bare).toFixed(1)}; start ${slope(rows, row => row.kept.startMilliseconds).toFixed(0)} ms`,
  )
}
