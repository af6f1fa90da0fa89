/** JSON Pointers: RFC 6901. */

const escaped = (part: PropertyKey): string => String(part).replaceAll('~', '~0').replaceAll('/', '~1')

/** The pointer one step further. */
export const pointerUnder = (pointer: string, part: string | number | boolean | null): string =>
  `${pointer}/${escaped(String(part))}`

export const pointerOf = (path: readonly PropertyKey[]): string => path.map(part => `/${escaped(part)}`).join('')

/** The keys that a pointer names, in order; undefined when the text is no pointer. */
export function pointerParts(pointer: string): string[] | undefined {
  if (pointer === '') return []
  if (!pointer.startsWith('/') || /~(?![01])/.test(pointer)) return undefined
  return pointer
    .slice(1)
    .split('/')
    .map(part => part.replaceAll('~1', '/').replaceAll('~0', '~'))
}

/** True for a part that may name an item of a list: no sign, no leading zero. */
export const isListIndex = (part: string): boolean => /^(?:0|[1-9]\d*)$/.test(part)

/**
 * The value that a pointer leads to in parsed JSON; undefined where there is none.
 * @see RFC 6901, section 4
 */
export function valueAtPointer(value: unknown, pointer: string): unknown {
  const parts = pointerParts(pointer)
  if (!parts) return undefined
  let place: unknown = value
  for (const part of parts) {
    if (typeof place !== 'object' || place === null || !Object.hasOwn(place, part)) return undefined
    if (Array.isArray(place) && !isListIndex(part)) return undefined
    place = (place as Record<string, unknown>)[part]
  }
  return place
}
