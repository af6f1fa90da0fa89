// One 4 s join with 30 bursts: closed form, a general integrator of the same error, and a circuit simulator's process.
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Bench } from 'tinybench'
import { eventBudget } from '../../dist/budget/circuit/event-budget.js'
import { simulateOpening } from '../../dist/budget/circuit/simulate.js'

const { Solver } = createRequire(import.meta.url)('odex')

const cell = { restedVolts: 3.1, seriesOhms: 10, polarisationOhms: 8, polarisationFarads: 0.5 }
const reservoir = { farads: 470e-6, ohms: 0.2, volts: 3.1 }
const burst = { milliamps: 170, milliseconds: 3, everyMilliseconds: 4000 / 30 }
const load = [{ milliamps: 60, milliseconds: 4000, burst }]

/** Load changes: start in seconds and amps. */
const steps = Array.from({ length: 30 }, (_, n) => [
  [(n * burst.everyMilliseconds) / 1000, 0.17],
  [(n * burst.everyMilliseconds + burst.milliseconds) / 1000, 0.06],
]).flat()

function integrate(tolerance) {
  let y = [0, reservoir.volts]
  let least = Number.POSITIVE_INFINITY
  const total = cell.seriesOhms + reservoir.ohms
  for (let index = 0; index < steps.length; index++) {
    const [from, amps] = steps[index]
    const to = steps[index + 1]?.[0] ?? 4
    const solver = new Solver(2)
    solver.absoluteTolerance = solver.relativeTolerance = tolerance
    const slope = (_t, [p, r]) => {
      const i = (cell.restedVolts - p - r + amps * reservoir.ohms) / total
      return [(i - p / cell.polarisationOhms) / cell.polarisationFarads, (i - amps) / reservoir.farads]
    }
    const volts = ([p, r]) =>
      ((cell.restedVolts - p) * reservoir.ohms + r * cell.seriesOhms - amps * cell.seriesOhms * reservoir.ohms) / total
    least = Math.min(least, volts(y))
    y = solver.solve(slope, from, y, to).y
    least = Math.min(least, volts(y))
  }
  return least
}

function deck() {
  const pairs = steps.map(([at, amps], n) => {
    if (n === 0) return `0 ${amps} 1u ${amps}`
    return `${at} ${steps[n - 1][1]} ${at + 1e-6} ${amps}`
  })
  return `* join
Vcell a 0 3.1
Rs a b 10
Rp b m 8
Cp b m 0.5 ic=0
Rr m r 0.2
Cr r 0 470u ic=3.1
Iload m 0 pwl(${pairs.join(' ')})
.options reltol=2e-5 abstol=1e-9 vntol=1e-7
.control
tran 0.2m 4 0 0.2m uic
meas tran least MIN v(m)
quit
.endc
.end
`
}

export async function run() {
  const exact = simulateOpening(cell, load, { reservoir }).minimumVolts
  // "The same error" is 1 microvolt, and 10 microvolts as the loosest that any check here asks for.
  const errorAt = tolerance => Math.abs(integrate(tolerance) - exact)
  const tolerances = [1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11, 1e-12]
  const loosest = error => tolerances.find(tolerance => errorAt(tolerance) <= error)
  const [loose, tight] = [loosest(1e-5), loosest(1e-9)]
  const bench = new Bench({ time: 1000, warmupTime: 200 })
  bench
    .add('simulateOpening', () => simulateOpening(cell, load, { reservoir }))
    .add(`odex at ${loose}`, () => integrate(loose))
    .add(`odex at ${tight}`, () => integrate(tight))
    .add('eventBudget, cold join', () => eventBudget({}))
    .add('eventBudget, 30 bursts and a reservoir', () =>
      eventBudget({ load, resetVolts: 1, reservoir: { farads: 0.01, place: 'after-reed' } }),
    )
  await bench.run()
  const microseconds = name => {
    const task = bench.tasks.find(task => task.name === name)
    return task.result.latency.p50 * 1000
  }
  const ours = microseconds('simulateOpening')
  const rows = bench.tasks.map(({ name }) => ({
    name,
    microseconds: microseconds(name),
    times: microseconds(name) / ours,
  }))

  const folder = mkdtempSync(join(tmpdir(), 'sashtally-bench-'))
  try {
    const path = join(folder, 'join.cir')
    writeFileSync(path, deck())
    const times = []
    let least
    for (let n = 0; n < 5; n++) {
      const from = performance.now()
      const ran = spawnSync('ngspice', ['-b', path], { encoding: 'utf8' })
      if (ran.error) break
      times.push((performance.now() - from) * 1000)
      least = Number(/^least\s*=\s*([-+.\de]+)/m.exec(ran.stdout)?.[1])
    }
    if (times.length) {
      times.sort((a, b) => a - b)
      const middle = times[Math.floor(times.length / 2)]
      rows.push({
        name: `ngspice, a process (${((least - exact) * 1e6).toFixed(0)} uV off)`,
        microseconds: middle,
        times: middle / ours,
      })
    } else rows.push({ name: 'ngspice is not installed: not measured', microseconds: Number.NaN, times: Number.NaN })
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
  console.log(`budget: a 4 s join with 30 bursts, least ${exact.toFixed(6)} V`)
  for (const row of rows) {
    console.log(
      `  ${row.name.padEnd(44)} ${row.microseconds.toFixed(1).padStart(12)} us ${row.times.toFixed(1).padStart(9)} x`,
    )
  }
  const slower = rows.find(row => row.name === `odex at ${loose}`).times
  console.log(`  closed form against odex at the same 10 uV: ${slower.toFixed(0)} times as fast (aim: 200)`)
  return rows
}
