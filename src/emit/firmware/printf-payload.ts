import type { JsonPointers } from '../../register/types.ts'
import { pointerParts, pointerUnder } from '../../text/json-pointer.ts'

/** A number that a payload carries, and its conversion. */
const CONVERSIONS = { boots: '%lu', millivolts: '%u', joinMilliseconds: '%lu' } as const
export type Figure = keyof typeof CONVERSIONS

/** A payload as a printf format, and the figures that are passed to it, in order. */
export interface PayloadFormat {
  /** For `printf`: `%%` is a percent sign. */
  readonly format: string
  readonly figures: readonly Figure[]
}

type Tree = Map<string, Tree | string>

/**
 * The JSON payload of one word as a printf format: `%lu` boots and join milliseconds, `%u` millivolts, the revision
 * as text. The pointers (RFC 6901) are keys of objects, a number too; none leads into another.
 */
export function payloadFormat(json: JsonPointers, word: string, revision: string): PayloadFormat {
  if (json.word === '') return { format: quoted(word), figures: [] }
  const tree: Tree = new Map()
  put(tree, json.word, quoted(word))
  const places = new Map<string, Figure>()
  for (const figure of Object.keys(CONVERSIONS) as Figure[]) {
    const pointer = json[figure]
    if (pointer === undefined) continue
    put(tree, pointer, CONVERSIONS[figure])
    places.set(pointer, figure)
  }
  if (json.revision !== undefined) put(tree, json.revision, quoted(revision))
  const figures: Figure[] = []
  const text = (value: Tree | string, pointer: string): string => {
    if (typeof value !== 'string')
      return `{${[...value].map(([key, part]) => `${quoted(key)}:${text(part, pointerUnder(pointer, key))}`).join(',')}}`
    const figure = places.get(pointer)
    if (figure) figures.push(figure)
    return value
  }
  return { format: text(tree, ''), figures }
}

const quoted = (text: string): string => JSON.stringify(text).replaceAll('%', '%%')

function put(tree: Tree, pointer: string, value: string): void {
  const keys = pointerParts(pointer) ?? []
  const last = keys.pop() ?? ''
  let place = tree
  for (const key of keys) {
    const next = place.get(key)
    if (typeof next === 'object') place = next
    else {
      const made: Tree = new Map()
      place.set(key, made)
      place = made
    }
  }
  place.set(last, value)
}

/**
 * One payload as a contact sends it: the figures in their places of the format.
 * @param values - whole numbers, 0 or more
 */
export const payloadText = ({ format, figures }: PayloadFormat, values: Readonly<Record<Figure, number>>): string => {
  let next = 0
  return format.replace(/%(?:%|lu|u)/g, place => (place === '%%' ? '%' : String(values[figures[next++]!])))
}
