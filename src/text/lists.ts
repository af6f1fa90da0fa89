/** Names in a sentence: `a`, `a and b`, `a, b and c`. */
export const listed = (names: readonly string[], word = 'and'): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} ${word} ${names.at(-1)}`

/** Names with commas, at most `most` of them: `a, b, c`, or `a, b and 7 more`. */
export const firstOf = (names: readonly string[], most: number): string =>
  names.length > most ? `${names.slice(0, most - 1).join(', ')} and ${names.length - most + 1} more` : names.join(', ')

/** A sorted copy; `toSorted` is missing in the least browsers. */
export const sorted = <T>(items: Iterable<T>, compare: (a: T, b: T) => number): T[] => [...items].sort(compare)
