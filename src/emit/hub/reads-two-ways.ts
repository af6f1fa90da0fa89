import { isMap, isScalar, type Node } from 'yaml'
import { pointerUnder } from '../../text/json-pointer.ts'
import type { Filling } from './filling.ts'
import type { HubFile } from './hub-file.ts'

/**
 * True for plain text that readers of YAML 1.1 take for something else: yes and no, dates, times in base 60,
 * digits with underscores or a leading zero.
 */
export const isReadTwoWays = (text: string): boolean =>
  /^(?:y|n|yes|no|on|off|=)$/i.test(text) ||
  /^\d{4}-\d\d?-\d\d?(?:$|[Tt\s])/.test(text) ||
  /^[-+]?\d[\d_]*(?::[0-5]?\d)+(?:\.[\d_]*)?$/.test(text) ||
  /^[-+]?(?:0b[01_]+|0x[\da-fA-F_]+|\d[\d_]*(?:\.[\d_]*)?|\.\d[\d_]*)$/.test(text)

/** Sentences about plain words and numbers of an entry that some readers take for something else. */
export function readsTwoWays(node: Node | null, file: HubFile, fill: ReadonlyMap<string, Filling | null>): string[] {
  const found: string[] = []
  const walk = (held: unknown, path: string): void => {
    if (isScalar(held)) {
      if (typeof held.value === 'number' && /^[-+]?0[\dxob]/i.test(held.source ?? '') && !fill.get(path)) {
        found.push(
          `${path}: ${held.source} is ${held.value} to YAML 1.2 and may be another number to older readers; it is written as ${held.value}; where it is a name, put it in quotes (line ${file.line(held.range?.[0] ?? 0)})`,
        )
      }
      if (held.type === 'PLAIN' && typeof held.value === 'string' && isReadTwoWays(held.value) && !fill.get(path)) {
        found.push(
          `${path}: ${held.value} without quotes is text to YAML 1.2 and something else to older readers; it is written as the text "${held.value}"; where true, false or a number is meant, write that (line ${file.line(held.range?.[0] ?? 0)})`,
        )
      }
    } else if (isMap(held)) {
      for (const { key, value } of held.items) {
        const name = isScalar(key) ? String(key.value) : ''
        walk(key, `${pointerUnder(path, name)} (the key)`)
        walk(value, pointerUnder(path, name))
      }
    } else if (held !== null && typeof held === 'object' && 'items' in held) {
      for (const [index, item] of (held.items as unknown[]).entries()) walk(item, pointerUnder(path, index))
    }
  }
  walk(node, '')
  return found
}
