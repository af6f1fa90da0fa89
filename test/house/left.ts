import type { Left } from '../../src/protocol/reading.ts'

/** A cell that is more likely dead than not. */
export const DEAD: Left = {
  p05: 0,
  p50: 1,
  p95: 9,
  alive: 0.2,
  next: 0.2,
  restsOn: { source: 'practice', cells: 0, deaths: 0 },
}
