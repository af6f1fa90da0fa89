/** Something that happens once, and a promise of it. */
export interface Once<T> {
  readonly when: Promise<T>
  readonly now: (value: T) => void
}

export function once<T = void>(): Once<T> {
  let now: (value: T) => void = () => {}
  const when = new Promise<T>(done => {
    now = done
  })
  return { when, now }
}
