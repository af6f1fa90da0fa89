/** Words of a shell line: blanks part them, single quotes hold them together. */
export const wordsOf = (line: string): string[] =>
  [...line.matchAll(/'([^']*)'|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain!)
