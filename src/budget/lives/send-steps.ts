/** Sends of the cold are told in steps of 2.5 %: finer than anybody knows them, and cells share what is worked out. */
const STEP = Math.log(1.025)

const at = (step: number): number => Math.exp(STEP * step)

/** The nearest step; 0 stays 0. */
export const toStep = (sends: number): number => (sends > 0 ? at(Math.round(Math.log(sends) / STEP)) : 0)

/**
 * Chance of getting through to so many sends in all, from those that the cell has given. Worked out at the steps, and
 * between two of them on a straight line of the logarithms.
 */
export function onSteps(surviving: (more: number) => number, given: number): (total: number) => number {
  const known = new Map<number, number>()
  const logAt = (step: number): number => {
    const found = known.get(step) ?? Math.log(Math.max(LEAST, surviving(at(step) - given)))
    known.set(step, found)
    return found
  }
  return total => {
    if (total <= given) return 1
    const place = Math.log(total) / STEP
    const below = Math.floor(place)
    const from = at(below) <= given ? Math.log(given) / STEP : below
    const before = at(below) <= given ? 0 : logAt(below)
    const share = (place - from) / (below + 1 - from)
    return Math.exp(before + share * (logAt(below + 1) - before))
  }
}

/** Never quite 0: logarithms are taken of it. */
const LEAST = 1e-300
