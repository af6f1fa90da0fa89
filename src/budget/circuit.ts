import { root } from './root.ts'
import type { CellCircuit, ReservoirCircuit } from './types.ts'

/**
 * Cell, reservoir and load as a linear circuit, solved in closed form for a constant load current.
 *
 * Two states: p, volts on the polarisation, and r, volts on the reservoir. With S = Rs + Re,
 *   C1 p' = (V - p - r + I Re) / S - p / R1
 *   Cr r' = (V - p - r - I Rs) / S
 * and module volts v = ((V - p) Re + r Rs - I Rs Re) / S. Both eigenvalues are real and at most 0;
 * e^(At) = e^(at) 1 + f(t) (A - a 1), f(t) = (e^(at) - e^(bt)) / (a - b), which is t e^(at) where a = b.
 * A part that is left out (no polarisation, no reservoir) leaves its state at rest.
 */
export interface Circuit {
  readonly volts: number
  readonly seriesOhms: number
  readonly polarisationOhms: number
  readonly polarisationFarads: number
  readonly reservoirOhms: number
  readonly reservoirFarads: number
  /** Slow and fast eigenvalue, 1/s; equal where there is one state. */
  readonly slow: number
  readonly fast: number
  /** Whether the polarisation and the reservoir are states. */
  readonly polarises: boolean
  readonly stores: boolean
}

/** Volts on the polarisation and on the reservoir. */
export interface State {
  readonly polarisation: number
  readonly reservoir: number
}

/** One constant current: v(t) = settled + a e^(slow t) + b f(t). */
export interface Piece {
  readonly settled: number
  readonly a: number
  readonly b: number
  readonly slow: number
  readonly fast: number
}

export function circuitOf(cell: CellCircuit, reservoir: ReservoirCircuit | undefined): Circuit {
  const polarises = cell.polarisationOhms > 0 && cell.polarisationFarads > 0
  const seriesOhms = cell.seriesOhms + (polarises ? 0 : cell.polarisationOhms)
  const stores = reservoir !== undefined && reservoir.farads > 0
  const loop = seriesOhms + (stores ? reservoir.ohms : 0)
  let slow = 0
  let fast = 0
  if (polarises && stores) {
    const p = (1 / loop + 1 / cell.polarisationOhms) / cell.polarisationFarads
    const r = 1 / (loop * reservoir.farads)
    const coupling = 1 / (loop * loop * cell.polarisationFarads * reservoir.farads)
    fast = -((p + r) / 2 + Math.sqrt(((p - r) / 2) ** 2 + coupling))
    // By the product of the eigenvalues: no difference of near-equal numbers.
    slow = 1 / (cell.polarisationOhms * cell.polarisationFarads * loop * reservoir.farads) / fast
    if (slow < fast) slow = fast
  } else if (polarises) slow = fast = -1 / (cell.polarisationOhms * cell.polarisationFarads)
  else if (stores) slow = fast = -1 / (loop * reservoir.farads)
  return {
    volts: cell.restedVolts,
    seriesOhms,
    polarisationOhms: polarises ? cell.polarisationOhms : 0,
    polarisationFarads: polarises ? cell.polarisationFarads : 1,
    reservoirOhms: stores ? reservoir.ohms : 0,
    reservoirFarads: stores ? reservoir.farads : 0,
    slow,
    fast,
    polarises,
    stores,
  }
}

/** Volts at the module for a state and a load current. */
export function moduleVolts(c: Circuit, state: State, amps: number): number {
  const open = c.volts - (c.polarises ? state.polarisation : 0)
  if (!c.stores) return open - amps * c.seriesOhms
  const loop = c.seriesOhms + c.reservoirOhms
  return (open * c.reservoirOhms + state.reservoir * c.seriesOhms - amps * c.seriesOhms * c.reservoirOhms) / loop
}

const settle = (c: Circuit, amps: number): State => ({
  polarisation: amps * c.polarisationOhms,
  reservoir: c.volts - amps * (c.seriesOhms + c.polarisationOhms),
})

/** (A - slow 1) (state - settled). */
function turned(c: Circuit, p: number, r: number): State {
  if (!c.polarises || !c.stores) return { polarisation: 0, reservoir: 0 }
  const loop = c.seriesOhms + c.reservoirOhms
  const both = (p + r) / loop
  return {
    polarisation: -(both + p / c.polarisationOhms) / c.polarisationFarads - c.slow * p,
    reservoir: -both / c.reservoirFarads - c.slow * r,
  }
}

/** f(t) e^(-slow t), which is t where the eigenvalues are equal. */
const ramp = (gap: number, seconds: number): number => (gap > 0 ? -Math.expm1(-gap * seconds) / gap : seconds)

/** The state after `seconds` of a constant current. */
export function advance(c: Circuit, state: State, amps: number, seconds: number): State {
  const end = settle(c, amps)
  const p = c.polarises ? state.polarisation - end.polarisation : 0
  const r = c.stores ? state.reservoir - end.reservoir : 0
  const turn = turned(c, p, r)
  const decay = Math.exp(c.slow * seconds)
  const f = ramp(c.slow - c.fast, seconds)
  return {
    polarisation: c.polarises ? end.polarisation + decay * (p + f * turn.polarisation) : 0,
    reservoir: c.stores ? end.reservoir + decay * (r + f * turn.reservoir) : state.reservoir,
  }
}

/** Module volts of one piece as a sum of exponentials. */
export function pieceOf(c: Circuit, state: State, amps: number): Piece {
  const end = settle(c, amps)
  const p = c.polarises ? state.polarisation - end.polarisation : 0
  const r = c.stores ? state.reservoir - end.reservoir : 0
  const turn = turned(c, p, r)
  const loop = c.seriesOhms + c.reservoirOhms
  const ofP = c.stores ? -c.reservoirOhms / loop : -1
  const ofR = c.stores ? c.seriesOhms / loop : 0
  return {
    settled: moduleVolts(c, end, amps),
    a: ofP * p + ofR * r,
    b: ofP * turn.polarisation + ofR * turn.reservoir,
    slow: c.slow,
    fast: c.fast,
  }
}

export const voltsAt = (piece: Piece, seconds: number): number =>
  piece.settled + Math.exp(piece.slow * seconds) * (piece.a + piece.b * ramp(piece.slow - piece.fast, seconds))

/** When the volts turn inside a piece, in seconds; undefined when they never do. There is at most one turn. */
export function turnOf(piece: Piece): number | undefined {
  const { a, b, slow, fast } = piece
  if (b === 0 || fast === 0) return undefined
  const gap = slow - fast
  const f = -(slow * a + b) / (b * fast)
  const inside = 1 - gap * f
  if (!(f > 0) || !(inside > 0)) return undefined
  return gap * f < 1e-8 ? f * (1 + (gap * f) / 2) : -Math.log1p(-gap * f) / gap
}

/** When the volts first reach `volts` from below, in seconds; undefined when they never do. */
export function firstReaches(piece: Piece, volts: number): number | undefined {
  if (voltsAt(piece, 0) >= volts) return 0
  const turn = turnOf(piece)
  const peak = turn !== undefined && voltsAt(piece, turn) > voltsAt(piece, 0) ? turn : undefined
  let end = peak ?? (piece.slow < 0 ? 1 / -piece.slow : 0)
  if (peak === undefined) {
    if (piece.settled <= volts) return undefined
    for (let i = 0; i < 60 && voltsAt(piece, end) < volts; i++) end *= 2
  }
  if (voltsAt(piece, end) < volts) return undefined
  return root(seconds => voltsAt(piece, seconds) - volts, 0, end)
}
