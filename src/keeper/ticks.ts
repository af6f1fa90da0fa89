/** Time between two ticks, milliseconds. */
export const TICK_MILLISECONDS = 1_000

type Work = () => void

const ticking = new Set<Work>()
let timer: ReturnType<typeof setInterval> | undefined

/**
 * Runs `work` at every tick: one timer for all of the process, and in no turn with others, since a tick that comes late
 * shows that nothing was read meanwhile. What it answers cancels it.
 */
export function atEveryTick(work: Work): () => void {
  // A function of its own: the same work may be wanted twice.
  const item = (): void => work()
  ticking.add(item)
  timer ??= setInterval(() => {
    for (const each of ticking) each()
  }, TICK_MILLISECONDS)
  return () => {
    ticking.delete(item)
    if (ticking.size > 0) return
    clearInterval(timer)
    timer = undefined
  }
}
