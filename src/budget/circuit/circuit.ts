import type { CellCircuit, ReservoirCircuit } from '../types.ts'
import { root } from './root.ts'

/**
 * Cell, reservoir and load as a linear circuit, solved in closed form for a constant load current.
 *
 * Two states: p, volts on the polarisation, and r, volts on the reservoir. With a bleed of g siemens beside the module
 * and D = Rs + Re + Rs Re g,
 *   C1 p' = ((V - p) (1 + Re g) - r + I Re) / D - p / R1
 *   Cr r' = (V - p - r (1 + Rs g) - I Rs) / D
 * and module volts v = ((V - p) Re + r Rs - I Rs Re) / D. Both eigenvalues are real and at most 0;
 * e^(At) = e^(at) 1 + f(t) (A - a 1), f(t) = (e^(at) - e^(bt)) / (a - b), which is t e^(at) where a = b.
 * A part that is left out (no polarisation, no reservoir) leaves its state at rest.
 */
export interface Circuit {
  readonly volts: number
  readonly seriesOhms: number
  readonly polarisationOhms: number
  readonly polarisationFarads: number
  readonly reservoirFarads: number
  readonly reservoirOhms: number
  /** Of the bleed, 1/ohm; 0 without one. */
  readonly bleedSiemens: number
  /** A, 1/s, with its signs turned: of p' = -(pp p + pr r) and r' = -(rp p + rr r). */
  readonly pp: number
  readonly pr: number
  readonly rp: number
  readonly rr: number
  /** Part of the cell's volts that is left over the bleed once all has settled. */
  readonly settledShare: number
  /** Module volts for one volt of each state. */
  readonly voltsPerP: number
  readonly voltsPerR: number
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

/**
 * One constant current: v(t) = endR + e^(slow t) (a + b g(t)) with g(t) = f(t) e^(-slow t), and the same for both
 * states: where they settle, how far they start from there, and that turned by (A - slow 1).
 */
export interface Piece {
  readonly circuit: Circuit
  readonly a: number
  readonly b: number
  readonly endP: number
  /** The module's volts settle there too: no current flows into a settled reservoir. */
  readonly endR: number
  readonly offP: number
  readonly offR: number
  readonly turnedP: number
  readonly turnedR: number
}

export function circuitOf(cell: CellCircuit, reservoir: ReservoirCircuit | undefined): Circuit {
  const polarises = cell.polarisationOhms > 0 && cell.polarisationFarads > 0
  const seriesOhms = cell.seriesOhms + (polarises ? 0 : cell.polarisationOhms)
  const stores = reservoir !== undefined && reservoir.farads > 0
  const reservoirOhms = stores ? reservoir.ohms : 0
  const bleed = stores && reservoir.bleedOhms ? 1 / reservoir.bleedOhms : 0
  const loop = seriesOhms + reservoirOhms + seriesOhms * reservoirOhms * bleed
  const polarisationOhms = polarises ? cell.polarisationOhms : 0
  const rr = stores ? (1 + seriesOhms * bleed) / (loop * reservoir.farads) : 0
  const rp = stores ? 1 / (loop * reservoir.farads) : 0
  const pr = polarises ? 1 / (loop * cell.polarisationFarads) : 0
  const pp = polarises ? ((1 + reservoirOhms * bleed) / loop + 1 / cell.polarisationOhms) / cell.polarisationFarads : 0
  let slow = 0
  let fast = 0
  if (polarises && stores) {
    fast = -((pp + rr) / 2 + Math.sqrt(((pp - rr) / 2) ** 2 + pr * rp))
    // By the product of the eigenvalues: no difference of near-equal numbers.
    const both = 1 + bleed * (seriesOhms + cell.polarisationOhms)
    slow = both / (cell.polarisationOhms * cell.polarisationFarads * loop * reservoir.farads) / fast
    if (slow < fast) slow = fast
  } else if (polarises) slow = fast = -1 / (cell.polarisationOhms * cell.polarisationFarads)
  else if (stores) slow = fast = -rr
  return {
    volts: cell.restedVolts,
    seriesOhms,
    polarisationOhms,
    polarisationFarads: polarises ? cell.polarisationFarads : 1,
    reservoirFarads: stores ? reservoir.farads : 0,
    reservoirOhms,
    bleedSiemens: bleed,
    pp,
    pr,
    rp,
    rr,
    settledShare: 1 / (1 + (seriesOhms + polarisationOhms) * bleed),
    voltsPerP: stores ? -reservoirOhms / loop : -1,
    voltsPerR: stores ? seriesOhms / loop : 0,
    slow,
    fast,
    polarises,
    stores,
  }
}

export function pieceOf(c: Circuit, state: State, amps: number): Piece {
  const endR = (c.volts - amps * (c.seriesOhms + c.polarisationOhms)) * c.settledShare
  const endP = (amps + endR * c.bleedSiemens) * c.polarisationOhms
  const offP = c.polarises ? state.polarisation - endP : 0
  const offR = c.stores ? state.reservoir - endR : 0
  let turnedP = 0
  let turnedR = 0
  if (c.polarises && c.stores) {
    turnedP = -((c.pp + c.slow) * offP + c.pr * offR)
    turnedR = -(c.rp * offP + (c.rr + c.slow) * offR)
  }
  return {
    circuit: c,
    a: c.voltsPerP * offP + c.voltsPerR * offR,
    b: c.voltsPerP * turnedP + c.voltsPerR * turnedR,
    endP,
    endR,
    offP,
    offR,
    turnedP,
    turnedR,
  }
}

/** e^(slow t). */
export const decayOf = (piece: Piece, seconds: number): number => Math.exp(piece.circuit.slow * seconds)

/** g(t): rises from 0, and is t where the eigenvalues are equal. */
export function rampOf({ circuit: { slow, fast } }: Piece, seconds: number): number {
  const gap = slow - fast
  return gap > 0 ? -Math.expm1(-gap * seconds) / gap : seconds
}

export const voltsOf = (piece: Piece, decay: number, ramp: number): number =>
  piece.endR + decay * (piece.a + piece.b * ramp)

const voltsAt = (piece: Piece, seconds: number): number =>
  voltsOf(piece, decayOf(piece, seconds), rampOf(piece, seconds))

export function stateOf(piece: Piece, decay: number, ramp: number): State {
  const c = piece.circuit
  return {
    polarisation: c.polarises ? piece.endP + decay * (piece.offP + ramp * piece.turnedP) : 0,
    reservoir: c.stores ? piece.endR + decay * (piece.offR + ramp * piece.turnedR) : 0,
  }
}

/** Coulombs through the bleed: with x' = A (x - end), the volts are integrated by A's inverse, not by samples. */
export function bledCoulombs({ circuit: c, endR }: Piece, from: State, to: State, seconds: number): number {
  const risenP = to.polarisation - from.polarisation
  const risenR = to.reservoir - from.reservoir
  const off = c.polarises ? (c.rp * risenP - c.pp * risenR) / (c.slow * c.fast) : risenR / c.slow
  return c.bleedSiemens * (endR * seconds + off + c.reservoirOhms * c.reservoirFarads * risenR)
}

/** Volts a second at the start. */
export const slopeOf = ({ a, b, circuit: { slow } }: Piece): number => slow * a + b

/** g(t) where the volts turn; undefined when they never do. There is at most one turn. */
export function rampAtTurn({ a, b, circuit: { slow, fast } }: Piece): number | undefined {
  if (b === 0 || fast === 0) return undefined
  const ramp = -(slow * a + b) / (b * fast)
  return ramp > 0 && (slow - fast) * ramp < 1 ? ramp : undefined
}

/** The time at which g(t) has a value. */
export function timeOfRamp({ circuit: { slow, fast } }: Piece, ramp: number): number {
  const gap = slow - fast
  return gap * ramp < 1e-8 ? ramp * (1 + (gap * ramp) / 2) : -Math.log1p(-gap * ramp) / gap
}

/** When the volts first reach `volts` from below, in seconds; undefined when they never do. */
export function firstReaches(piece: Piece, volts: number): number | undefined {
  if (voltsAt(piece, 0) >= volts) return 0
  const ramp = rampAtTurn(piece)
  const turn = ramp === undefined ? undefined : timeOfRamp(piece, ramp)
  const peak = turn !== undefined && voltsAt(piece, turn) > voltsAt(piece, 0) ? turn : undefined
  let end = peak ?? (piece.circuit.slow < 0 ? 1 / -piece.circuit.slow : 0)
  if (peak === undefined) {
    if (piece.endR <= volts) return undefined
    for (let i = 0; i < 60 && voltsAt(piece, end) < volts; i++) end *= 2
  }
  if (voltsAt(piece, end) < volts) return undefined
  return root(seconds => voltsAt(piece, seconds) - volts, 0, end)
}
