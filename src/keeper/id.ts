import { randomInt } from 'node:crypto'

/** An id that sorts by time: milliseconds and a draw of 41 bits, in base 36. */
export const newId = (now: number): string =>
  `${Math.max(0, now).toString(36).padStart(9, '0')}-${randomInt(2 ** 41)
    .toString(36)
    .padStart(8, '0')}`
