import { checkCell, checkLoad, checkReservoir, mustBeObject } from '../check.ts'
import type { CellCircuit, LoadPhase, OpeningResult, ReservoirCircuit } from '../types.ts'
import {
  bledCoulombs,
  type Circuit,
  circuitOf,
  decayOf,
  firstReaches,
  pieceOf,
  rampAtTurn,
  rampOf,
  type State,
  slopeOf,
  stateOf,
  timeOfRamp,
  voltsOf,
} from './circuit.ts'

/**
 * One opening: what the module sees while the cell carries the load.
 * Between changes of the load the circuit is solved in closed form (two-state exponential), and a minimum inside
 * a piece is found by its derivative, not by samples. The cell starts relaxed.
 * @param cell - volts 0 or more; seriesOhms above 0; polarisationOhms and polarisationFarads 0 or more
 * @param load - phases in order; milliamps 0 or more, milliseconds above 0
 * @param options.reservoir - a capacitor beside the module with its series resistance, its volts at the start, and a
 *   resistor across it (0 or none leaves that out)
 * @returns volts at the module, negative when the cell cannot deliver the load; charge delivered by the cell
 * @throws RangeError that names the argument and the value
 * @example
 * import { simulateOpening } from 'sashtally'
 * // 75 mA for 4 s out of a fresh coin cell of 28/3 ohm: 3.2 V less 0.7 V.
 * const seen = simulateOpening(
 *   { restedVolts: 3.2, seriesOhms: 28 / 3, polarisationOhms: 0, polarisationFarads: 0 },
 *   [{ milliamps: 75, milliseconds: 4000 }],
 * )
 * console.log(seen.minimumVolts.toFixed(2)) // 2.50
 */
export function simulateOpening(
  cell: CellCircuit,
  load: readonly LoadPhase[],
  options: { readonly reservoir?: ReservoirCircuit | undefined } = {},
): OpeningResult {
  checkCell(cell)
  checkLoad(load)
  mustBeObject('options', options, 'an object')
  if (options.reservoir !== undefined) checkReservoir(options.reservoir)
  const circuit = circuitOf(cell, options.reservoir)
  return run(circuit, { polarisation: 0, reservoir: options.reservoir?.volts ?? 0 }, load)
}

/**
 * As `simulateOpening`, behind the reed: the load waits until the module's volts first reach `startVolts`, drawing
 * `idleMilliamps` until then. The minimum counts from there, and so does its time.
 * @returns undefined when the volts never get there
 */
export function simulateStart(
  cell: CellCircuit,
  load: readonly LoadPhase[],
  reservoir: ReservoirCircuit,
  startVolts: number,
  idleMilliamps = 0,
): (OpeningResult & { readonly startsAfterMilliseconds: number }) | undefined {
  checkCell(cell)
  checkLoad(load)
  checkReservoir(reservoir)
  const circuit = circuitOf(cell, reservoir)
  const empty: State = { polarisation: 0, reservoir: reservoir.volts }
  const idle = idleMilliamps / 1000
  const filling = pieceOf(circuit, empty, idle)
  const seconds = firstReaches(filling, startVolts)
  if (seconds === undefined) return undefined
  const started = stateOf(filling, decayOf(filling, seconds), rampOf(filling, seconds))
  const result = run(circuit, started, load)
  const before =
    idle * seconds +
    bledCoulombs(filling, empty, started, seconds) +
    circuit.reservoirFarads * (started.reservoir - empty.reservoir)
  return {
    ...result,
    chargeMillicoulombs: result.chargeMillicoulombs + before * 1000,
    startsAfterMilliseconds: seconds * 1000,
  }
}

/** Charge that a load takes, in millicoulombs. */
export function loadMillicoulombs(load: readonly LoadPhase[]): number {
  return steadily(load).reduce((charge, { milliamps, milliseconds }) => charge + (milliamps * milliseconds) / 1000, 0)
}

interface Steady {
  readonly milliamps: number
  readonly milliseconds: number
}

/** The constant currents of a load in order. */
function steadily(load: readonly LoadPhase[]): readonly Steady[] {
  const pieces: Steady[] = []
  for (const { milliamps, milliseconds, burst } of load) {
    if (!burst) {
      pieces.push({ milliamps, milliseconds })
      continue
    }
    // A rest of less than this is rounding of n times everyMilliseconds, not a piece.
    const least = milliseconds * 1e-12
    for (let index = 0; ; index++) {
      const left = milliseconds - index * burst.everyMilliseconds
      if (left <= least) break
      const on = Math.min(burst.milliseconds, left)
      pieces.push({ milliamps: burst.milliamps, milliseconds: on })
      const off = Math.min(burst.everyMilliseconds, left) - on
      if (off > least) pieces.push({ milliamps, milliseconds: off })
    }
  }
  return pieces
}

function run(circuit: Circuit, start: State, load: readonly LoadPhase[]): OpeningResult {
  let state = start
  let elapsed = 0
  let charge = 0
  let minimumVolts = Number.POSITIVE_INFINITY
  let minimumAt = 0
  let endVolts = circuit.volts
  // Bursts repeat two lengths, in turn.
  let fall = { seconds: -1, decay: 1, ramp: 0 }
  let before = fall
  for (const { milliamps, milliseconds } of steadily(load)) {
    const seconds = milliseconds / 1000
    const piece = pieceOf(circuit, state, milliamps / 1000)
    const again = before
    before = fall
    fall = again.seconds === seconds ? again : { seconds, decay: decayOf(piece, seconds), ramp: rampOf(piece, seconds) }
    const { decay, ramp } = fall
    const startVolts = voltsOf(piece, 1, 0)
    if (startVolts < minimumVolts) {
      minimumVolts = startVolts
      minimumAt = elapsed
    }
    // A turn is a minimum only where the volts fall at first.
    const turn = slopeOf(piece) < 0 ? rampAtTurn(piece) : undefined
    if (turn !== undefined && turn < ramp) {
      const at = timeOfRamp(piece, turn)
      const turnVolts = voltsOf(piece, decayOf(piece, at), turn)
      if (turnVolts < minimumVolts) {
        minimumVolts = turnVolts
        minimumAt = elapsed + at * 1000
      }
    }
    const began = state
    state = stateOf(piece, decay, ramp)
    elapsed += milliseconds
    charge += milliamps * seconds
    if (circuit.bleedSiemens > 0) charge += bledCoulombs(piece, began, state, seconds) * 1000
    endVolts = voltsOf(piece, decay, ramp)
    if (endVolts < minimumVolts) {
      minimumVolts = endVolts
      minimumAt = elapsed
    }
  }
  // What the reservoir gave or took is the whole difference between cell, and load with bleed.
  const reservoir = circuit.reservoirFarads * (state.reservoir - start.reservoir) * 1000
  return { minimumVolts, minimumAtMilliseconds: minimumAt, endVolts, chargeMillicoulombs: charge + reservoir }
}
