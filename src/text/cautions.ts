/**
 * What can hurt somebody, said where the hazard is. Common practice where no source is named; ANSI/UL 4200A, 16 CFR
 * 1262 and 1263 and IEC 60086-4 from memory.
 */

/** Said wherever a cell is to be bought, changed or moved (IEC 60086-4, 16 CFR 1263). */
export const CELL_CAUTION =
  'No loose cell within reach of a child: swallowed, it kills; medical help at once. Never solder to one, never charge one.'

/** Said when a cell comes out (IEC 60086-4). */
export const SPENT_CELL_CAUTION =
  'Tape the poles of the old cell, keep it from fire and from a sunny sill, and take it to a collection point.'

/** A supply beside a cell. */
export const CELL_OUT_CAUTION =
  'Take the cell out before a bench supply or an adapter is connected: with the cell in, the supply charges it, and it can leak, burn or burst.'

/** Compartments of coin cells (ANSI/UL 4200A, 16 CFR 1263); magnets (16 CFR 1262). */
export const LID_CAUTION =
  'The lid of a coin cell must need a tool, or two independent and simultaneous movements, to open (ANSI/UL 4200A, 16 CFR 1263): a press-fit lid does not do. A swallowed cell or magnet kills; medical help at once.'

export const MAGNETS_CAUTION = 'Keep magnets away from pacemakers and other implants.'

/** At the bench. */
export const BENCH_CAUTION =
  '5 V on a 3.3 V module destroys it. Protect your eyes when leads are cut and soldered, and let the fumes out.'

/** Before a walk round the house. */
export const WALK_CAUTION =
  'Windows are high: do not lean out, stand on nothing that can slip, let no child near an open one. Fire doors and opening restrictors stay as they are; what cannot be opened safely is left out.'

export const MAINS_CAUTION =
  'Mains only from a closed, approved supply with a low voltage out of it; fixed wiring is a licensed person’s work. Local codes have the last word.'

/** Cells that are no coin: their compartments are another matter. */
const NO_COIN = /^(?:CR123A|two (?:FR|LR)\d+)$/

/** True for a coin cell, and for a cell that nobody here knows. */
export const mayBeCoin = (cell: string): boolean => !NO_COIN.test(cell)
