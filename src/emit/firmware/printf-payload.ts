import type { JsonPointers } from '../../register/types.ts'
import { pointerParts } from '../../text/json-pointer.ts'
import { own } from '../../text/own.ts'

/** What a payload's figures are in a printf format, in the order in which they are passed. */
export interface PayloadFormat {
  /** For `printf`: `%%` is a percent sign. */
  readonly format: string
  readonly args: readonly ('boots' | 'millivolts')[]
}

type Tree = { [key: string]: Tree | string }

/**
 * The JSON payload of one word as a printf format: `%lu` boots, `%u` millivolts, the revision as text.
 * The pointers (RFC 6901) are keys of objects, a number too.
 */
export function payloadFormat(json: JsonPointers, word: string, revision: string): PayloadFormat {
  const tree: Tree = Object.create(null)
  const percent = (text: string): string => JSON.stringify(text).replaceAll('%', '%%')
  put(tree, json.word, percent(word))
  if (json.boots !== undefined) put(tree, json.boots, '%lu')
  if (json.millivolts !== undefined) put(tree, json.millivolts, '%u')
  if (json.revision !== undefined) put(tree, json.revision, percent(revision))
  const args: PayloadFormat['args'][number][] = []
  const text = (value: Tree | string): string => {
    if (typeof value === 'string') {
      if (value === '%lu') args.push('boots')
      if (value === '%u') args.push('millivolts')
      return value
    }
    return `{${Object.keys(value)
      .map(key => `${percent(key)}:${text(value[key]!)}`)
      .join(',')}}`
  }
  return { format: text(tree), args }
}

function put(tree: Tree, pointer: string, value: string): void {
  const keys = pointerParts(pointer) ?? []
  const last = keys.pop() ?? ''
  let place = tree
  for (const key of keys) {
    const next = own(place, key)
    if (typeof next === 'object') place = next
    else {
      const made: Tree = Object.create(null)
      place[key] = made
      place = made
    }
  }
  place[last] = value
}
