/** A slip of the pen in a text: its kind, its line from 0, and the text with it. */
export interface Slip {
  readonly kind: 'comma' | 'colon' | 'quote' | 'unquoted' | 'indent' | 'tab'
  readonly line: number
  readonly text: string
}

const without = (line: string, at: number): string => line.slice(0, at) + line.slice(at + 1)

/** Columns of a line that lie in no quotes and no comment. */
function outside(line: string): number[] {
  const found: number[] = []
  let quote = ''
  for (const [at, c] of [...line].entries()) {
    if (quote !== '') quote = c === quote ? '' : quote
    else if ((c === "'" || c === '"') && /(?:^|[\s[{,])$/.test(line.slice(0, at))) quote = c
    else if (c === '#' && /(?:^|\s)$/.test(line.slice(0, at))) break
    else found.push(at)
  }
  return found
}

/** Every such slip that can be made in a text, one at a time. */
export function* slipsIn(text: string): Generator<Slip> {
  const lines = text.split('\n')
  function* at(line: number, kind: Slip['kind'], changed: string): Generator<Slip> {
    if (changed !== lines[line]) yield { kind, line, text: lines.with(line, changed).join('\n') }
  }
  for (const [index, line] of lines.entries()) {
    if (!/^\s*[^\s#]/.test(line)) continue
    const free = outside(line)
    for (const column of free) {
      if (line[column] === ',') yield* at(index, 'comma', without(line, column))
      if (line[column] === ':' && /[\s]|^$/.test(line[column + 1] ?? ''))
        yield* at(index, 'colon', without(line, column))
    }
    for (const [column, c] of [...line].entries()) {
      const isFree = free.includes(column)
      if ((c === "'" || c === '"') && !isFree && !line.slice(0, column).includes(' #'))
        yield* at(index, 'quote', without(line, column))
    }
    yield* at(index, 'unquoted', line.replace(/(name|room): [A-Za-z ]+(?=,)/, '$1: Stair: light'))
    yield* at(index, 'unquoted', line.replace(/(name): [A-Za-z ]+(?=,)/, '$1: Stair, the light'))
    const indent = /^ */.exec(line)![0].length
    for (const other of [indent - 2, indent - 1, indent + 1, indent + 2]) {
      if (other >= 0) yield* at(index, 'indent', ' '.repeat(other) + line.trimStart())
    }
    if (indent > 0) yield* at(index, 'tab', `\t${line.trimStart()}`)
  }
}
