export const pause = (milliseconds: number): Promise<void> => new Promise(done => setTimeout(done, milliseconds))

/** What takes longer hangs, on a machine with ten times as much to do as it can, too. */
const HANG_SECONDS = 60

/**
 * Waits until `look` answers something truthy, and answers it.
 * @throws Error that names `what` when it has not come after `seconds`
 */
export async function until<T>(
  what: string,
  look: () => T | Promise<T>,
  seconds = HANG_SECONDS,
): Promise<Exclude<T, undefined | null | false | 0 | ''>> {
  const end = performance.now() + seconds * 1000
  for (;;) {
    const seen = await look()
    if (seen) return seen as Exclude<T, undefined | null | false | 0 | ''>
    if (performance.now() > end) throw new Error(`waited ${seconds} s for ${what}`)
    await pause(10)
  }
}
