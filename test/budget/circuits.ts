import { createRequire } from 'node:module'
import type { CellCircuit, LoadPhase, OpeningResult, ReservoirCircuit } from '../../src/budget/types.ts'

interface Solver {
  absoluteTolerance: number
  relativeTolerance: number
  maxSteps: number
  denseOutput: boolean
  solve(
    slope: (t: number, y: number[]) => number[],
    from: number,
    y: number[],
    to: number,
    seen?: (n: number, x0: number, x1: number, y: number[], dense: (c: number, x: number) => number) => void,
  ): { readonly y: number[]; readonly outcome: number }
}
// Loaded as it runs: its types are its own TypeScript source, which this project's strictness refuses.
const { Solver } = createRequire(import.meta.url)('odex') as { Solver: new (components: number) => Solver }

/** A seeded stream of numbers in 0 to 1 (mulberry32). */
export function seeded(seed: number): () => number {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) >>> 0
    let t = Math.imul(a ^ (a >>> 15), a | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
}

export interface Case {
  readonly cell: CellCircuit
  readonly load: readonly LoadPhase[]
  readonly reservoir?: ReservoirCircuit
}

/** Random circuits and loads of the sizes that a coin cell and a radio have, some with near-equal time constants. */
export function randomCases(count: number, seed: number): Case[] {
  const random = seeded(seed)
  const between = (low: number, high: number): number => low + (high - low) * random()
  const spread = (low: number, high: number): number => low * (high / low) ** random()
  return Array.from({ length: count }, (_, index): Case => {
    const restedVolts = between(2.6, 3.4)
    const seriesOhms = spread(4, 30)
    const ohms = index % 3 === 0 ? 0 : spread(0.05, 5)
    const farads = spread(100e-6, 50e-3)
    const near = index % 8 === 5
    const polarisationOhms =
      index % 7 === 3 && !near ? 0 : near ? (seriesOhms + ohms) * spread(1e-3, 1e-1) : spread(1, 20)
    const polarisationFarads = near ? farads * (1 + (seriesOhms + ohms) / polarisationOhms) : spread(0.02, 1)
    const load = Array.from({ length: 1 + Math.floor(random() * 4) }, (_, at): LoadPhase => {
      const milliamps = at > 0 && random() < 0.2 ? 0 : between(1, 90)
      const milliseconds = spread(10, 900)
      if (random() < 0.5) return { milliamps, milliseconds }
      const burst = between(1, 8)
      return {
        milliamps,
        milliseconds,
        burst: { milliamps: between(60, 300), milliseconds: burst, everyMilliseconds: burst + between(5, 150) },
      }
    })
    const cell = { restedVolts, seriesOhms, polarisationOhms, polarisationFarads }
    if (index % 4 === 0) return { cell, load }
    const volts = random() < 0.5 ? restedVolts : between(0, restedVolts)
    return {
      cell,
      load,
      reservoir: { farads, ohms, volts, ...(index % 3 === 1 ? { bleedOhms: 30 * (1 + (index % 50)) } : {}) },
    }
  })
}

/** Load changes written out apart from the code under test: pairs of a start in seconds and amps. */
export function changes(load: readonly LoadPhase[]): {
  readonly steps: [seconds: number, amps: number][]
  readonly end: number
} {
  const steps: [number, number][] = []
  let start = 0
  for (const { milliamps, milliseconds, burst } of load) {
    const end = start + milliseconds / 1000
    if (!burst) steps.push([start, milliamps / 1000])
    else {
      for (let at = start, n = 0; at < end - 1e-12; at = start + (++n * burst.everyMilliseconds) / 1000) {
        steps.push([at, burst.milliamps / 1000])
        const off = at + burst.milliseconds / 1000
        if (off < end - 1e-12 && burst.everyMilliseconds > burst.milliseconds) steps.push([off, milliamps / 1000])
      }
    }
    start = end
  }
  return { steps, end: start }
}

/** The same circuit by a general integrator (Gragg, Bulirsch and Stoer), restarted at each change of the load. */
export function integrated({ cell, load, reservoir }: Case, tolerance = 1e-10): OpeningResult {
  const { restedVolts: v0, seriesOhms: rs, polarisationOhms: r1, polarisationFarads: c1 } = cell
  const rc = reservoir?.ohms ?? 0
  const bleed = reservoir?.bleedOhms ? 1 / reservoir.bleedOhms : 0
  const volts = (y: readonly number[], amps: number): number => {
    const open = v0 - (r1 > 0 ? (y[0] ?? 0) : 0)
    if (!reservoir) return open - amps * rs
    if (rc === 0) return y[1] ?? 0
    return (open / rs + (y[1] ?? 0) / rc - amps) / (1 / rs + 1 / rc + bleed)
  }
  const cellAmps = (y: readonly number[], amps: number): number =>
    reservoir ? (v0 - (r1 > 0 ? (y[0] ?? 0) : 0) - volts(y, amps)) / rs : amps
  let y = [0, reservoir?.volts ?? 0, 0]
  let least = Number.POSITIVE_INFINITY
  let leastAt = 0
  const seen = (value: number, at: number): void => {
    if (value < least) {
      least = value
      leastAt = at
    }
  }
  const { steps, end } = changes(load)
  let endVolts = v0
  steps.forEach(([from, amps], index) => {
    const to = steps[index + 1]?.[0] ?? end
    const solver = new Solver(3)
    solver.absoluteTolerance = solver.relativeTolerance = tolerance
    solver.maxSteps = 1_000_000
    solver.denseOutput = true
    const slope = (_t: number, s: number[]): number[] => {
      const i = cellAmps(s, amps)
      return [
        r1 > 0 ? (i - (s[0] ?? 0) / r1) / c1 : 0,
        reservoir ? (i - amps - volts(s, amps) * bleed) / reservoir.farads : 0,
        i,
      ]
    }
    seen(volts(y, amps), from)
    const result = solver.solve(slope, from, y, to, (_n, x0, x1, _y, dense) => {
      const at = (x: number): number => volts([dense(0, x), dense(1, x)], amps)
      if (x1 > x0) turningPoint(at, x0, x1, seen)
    })
    if (result.outcome !== 0) throw new Error(`the integrator stopped at piece ${index}`)
    y = result.y
    endVolts = volts(y, amps)
    seen(endVolts, to)
  })
  return {
    minimumVolts: least,
    minimumAtMilliseconds: leastAt * 1000,
    endVolts,
    chargeMillicoulombs: (y[2] ?? 0) * 1000,
  }
}

/** Samples one step of the integrator and closes in on a least value by thirds. */
function turningPoint(at: (x: number) => number, from: number, to: number, seen: (v: number, x: number) => void): void {
  let low = from
  let high = to
  for (let i = 0; i < 12; i++) {
    const third = (high - low) / 3
    if (at(low + third) < at(high - third)) high -= third
    else low += third
  }
  seen(at((low + high) / 2), (low + high) / 2)
}

/** The same circuit for ngspice, one deck; edges of the load take a microsecond. */
export function deck({ cell, load, reservoir }: Case): {
  readonly lines: string[]
  readonly seconds: number
  readonly step: number
} {
  const edge = 1e-6
  const { steps, end } = changes(load)
  const pairs: string[] = []
  let before = 0
  for (const [at, amps] of steps) {
    if (at > 0) pairs.push(`${at.toPrecision(12)} ${before}`, `${(at + edge).toPrecision(12)} ${amps}`)
    // The second point makes the simulator keep a row right after the start.
    else pairs.push(`0 ${amps}`, `${edge} ${amps}`)
    before = amps
  }
  const lines = ['* one opening', `Vcell a 0 ${cell.restedVolts}`, `Rs a b ${cell.seriesOhms}`]
  if (cell.polarisationOhms > 0) {
    lines.push(`Rp b m ${cell.polarisationOhms}`, `Cp b m ${cell.polarisationFarads} ic=0`)
  } else lines.push('Vp b m 0')
  if (reservoir) {
    lines.push(`Cr ${reservoir.ohms > 0 ? 'r' : 'm'} 0 ${reservoir.farads} ic=${reservoir.volts}`)
    if (reservoir.ohms > 0) lines.push(`Rr m r ${reservoir.ohms}`)
    if (reservoir.bleedOhms) lines.push(`Rb m 0 ${reservoir.bleedOhms}`)
  }
  lines.push(`Iload m 0 pwl(${pairs.join(' ')})`)
  return {
    lines,
    seconds: end,
    step: Math.min(end / 1000, ...load.map(phase => (phase.burst?.milliseconds ?? 1000) / 16_000)),
  }
}
