import { quoted } from './yaml-text.ts'
import { isList, isValueMap, type Scalar, type Value } from './yaml-value.ts'

/** What can be written: values, and plain objects whose undefined keys are left out. */
export type Writable = Scalar | undefined | readonly Writable[] | ReadonlyMap<Scalar, Writable> | WritableObject
export interface WritableObject {
  readonly [key: string]: Writable
}

const PLAIN_KEY = /^[A-Za-z][A-Za-z0-9_-]*$/
const NOT_TEXT = /^(?:y|n|yes|no|on|off|true|false|null)$/i

function numberText(value: number): string {
  if (Number.isNaN(value)) return '.nan'
  if (!Number.isFinite(value)) return value < 0 ? '-.inf' : '.inf'
  const text = Object.is(value, -0) ? '-0.0' : String(value)
  // Without a point, YAML 1.1 reads 1e+21 as text.
  return text.includes('e') && !text.includes('.') ? text.replace('e', '.0e') : text
}

const scalarText = (value: Scalar): string =>
  typeof value === 'string' ? quoted(value) : typeof value === 'number' ? numberText(value) : String(value)

const keyText = (key: Scalar): string =>
  typeof key === 'string' && PLAIN_KEY.test(key) && !NOT_TEXT.test(key) ? key : scalarText(key)

/**
 * Block-style YAML, strings always in double quotes.
 * @param first - what stands before the first line; `rest`, of the same width, before the others
 */
export function yamlLines(value: Writable, first = '', rest = first, quoteKeys = false): string[] {
  const out: string[] = []
  put(value, first, rest, quoteKeys)
  return out

  function put(held: Writable, lead: string, indent: string, quoteThese: boolean): void {
    if (isList(held as Value)) {
      if ((held as readonly Writable[]).length === 0) out.push(`${lead}[]`)
      let before = lead
      for (const item of held as readonly Writable[]) {
        put(item, `${before}- `, `${indent}  `, false)
        before = indent
      }
    } else if (held !== null && typeof held === 'object') {
      let before = lead
      const pairs = isValueMap(held as Value) ? (held as ReadonlyMap<Scalar, Writable>) : Object.entries(held)
      for (const [key, item] of pairs) {
        if (item === undefined) continue
        const name = quoteThese ? scalarText(key) : keyText(key)
        if (item === null || typeof item !== 'object' || isEmpty(item)) put(item, `${before}${name}: `, indent, false)
        else {
          out.push(`${before}${name}:`)
          put(item, `${indent}  `, `${indent}  `, false)
        }
        before = indent
      }
      if (before === lead && isEmpty(held)) out.push(`${lead}{}`)
    } else out.push(lead + scalarText(held ?? null))
  }
}

const isEmpty = (value: object): boolean =>
  Array.isArray(value)
    ? value.length === 0
    : value instanceof Map
      ? value.size === 0
      : Object.values(value).every(item => item === undefined)

/** A whole YAML document. */
export const yamlText = (value: Writable, heading: readonly string[] = []): string =>
  [...heading.map(line => `# ${line}`), ...yamlLines(value), ''].join('\n')
