export const pause = (milliseconds: number): Promise<void> => new Promise(done => setTimeout(done, milliseconds))

/**
 * Waits until `look` answers something truthy, and answers it.
 * @throws Error that names `what` when it has not come after `seconds`
 */
export async function until<T>(
  what: string,
  look: () => T | Promise<T>,
  seconds = 10,
): Promise<Exclude<T, undefined | null | false | 0 | ''>> {
  const end = performance.now() + seconds * 1000
  for (;;) {
    const seen = await look()
    if (seen) return seen as Exclude<T, undefined | null | false | 0 | ''>
    if (performance.now() > end) throw new Error(`waited ${seconds} s for ${what}`)
    await pause(10)
  }
}
