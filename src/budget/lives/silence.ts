/**
 * Whether a cell still runs that has said nothing for a time. A dead contact and an unopened window are both silent.
 *
 * With q the chance of no opening in so long a time and p the chance that an opening gets through, an opening either did
 * not happen (q), or happened and failed ((1 - q)(1 - p)): a silent contact runs with chance q / (q + (1 - q)(1 - p)).
 */
export const aliveChance = (silence: number, through: number): number =>
  silence >= 1 ? 1 : Math.max(LEAST, silence / (silence + (1 - silence) * (1 - through)))

/** Nobody is surer than this that a cell is dead. */
const LEAST = 1e-6

/**
 * After a try that failed on its own (a live rest word without an opened word) as if the silence had this chance: one
 * failed join in fifty that is not the cell's. Assumption, no source.
 */
export const FAILED_JOIN = 0.02
