import { pointerUnder } from '../../text/json-pointer.ts'
import { parseJson } from '../../text/parse-json.ts'

/** The parts of JSON payloads that a register's JSON Pointers (RFC 6901) would name. */
export interface JsonShape {
  /** Pointer to the string that takes few values, and most of them. */
  readonly word: string
  /** Pointers to numbers: what they count cannot be told. */
  readonly numbers: readonly string[]
}

const MOST_WORDS = 4
/** Texts that mean a build, an address or a time, and no word. */
const NO_WORD = /^(?:[0-9a-f]{6,}|[0-9a-f]{2}([:-][0-9a-f]{2}){5}|[\d.:TZ+-]+)$/i

/** @returns undefined when no payload is a JSON object with a string in it */
export function jsonShapeOf(texts: readonly string[]): JsonShape | undefined {
  const values = new Map<string, Set<string>>()
  const numbers = new Set<string>()
  for (const text of texts) {
    for (const [pointer, value] of leaves(jsonOf(text))) {
      if (typeof value === 'number') numbers.add(pointer)
      if (typeof value === 'string' && !NO_WORD.test(value))
        values.set(pointer, (values.get(pointer) ?? new Set()).add(value))
    }
  }
  const [word] = [...values]
    .filter(([, set]) => set.size <= MOST_WORDS)
    .sort(([, a], [, b]) => b.size - a.size)
    .map(([pointer]) => pointer)
  return word === undefined ? undefined : { word, numbers: [...numbers] }
}

/** The word in a payload; a last will is often the bare word. */
export function wordOf(text: string, shape: JsonShape | undefined): string {
  if (shape === undefined) return text
  for (const [pointer, value] of leaves(jsonOf(text)))
    if (pointer === shape.word && typeof value === 'string') return value
  return text
}

const jsonOf = (text: string): unknown => (text.startsWith('{') ? (parseJson(text) ?? {}) : {})

const MOST_LEVELS = 6

function* leaves(value: unknown, under = '', level = 0): Generator<[pointer: string, value: unknown]> {
  if (typeof value !== 'object' || value === null) yield [under, value]
  else if (level < MOST_LEVELS)
    for (const [key, part] of Object.entries(value)) yield* leaves(part, pointerUnder(under, key), level + 1)
}
