/** Work of one turn of the event loop: what waits longer goes on in the next, after what came from outside. */
const TURN_MILLISECONDS = 10

type Work = () => void

/** In the order in which they came. */
const waiting = new Set<Work>()
let isScheduled = false

function takeTurn(): void {
  isScheduled = false
  const end = performance.now() + TURN_MILLISECONDS
  for (const work of waiting) {
    waiting.delete(work)
    // Also where it throws, the others have their turn.
    schedule()
    work()
    if (performance.now() >= end) return
  }
}

function schedule(): void {
  if (isScheduled || waiting.size === 0) return
  isScheduled = true
  setImmediate(takeTurn)
}

/**
 * Runs `work` soon, in turn with what others of this process want to do: many houses that have work at the same moment
 * do not stop the event loop together. What it answers cancels it.
 */
export function inTurn(work: () => void): () => void {
  // A function of its own: the same work may wait twice.
  const item = (): void => work()
  waiting.add(item)
  schedule()
  return () => void waiting.delete(item)
}

/** As `inTurn`, with what the work gives or throws. */
export const turnOf = <T>(work: () => T | Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    inTurn(() => {
      try {
        done(work())
      } catch (error) {
        failed(error)
      }
    })
  })
