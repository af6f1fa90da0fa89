import { isAlias, isCollection, isMap, isPair, isScalar, isSeq } from 'yaml'
import { isList, isValueMap, type Value } from '../../text/yaml-value.ts'

/**
 * True when two nodes are the same to a reader, tags, anchors and aliases too.
 * @param judge - decides on a pair of nodes itself; undefined: no decision
 */
export function isSameNode(
  one: unknown,
  other: unknown,
  judge: (one: unknown, other: unknown) => boolean | undefined = () => undefined,
): boolean {
  const same = (a: unknown, b: unknown): boolean => {
    const judged = a === null || a === undefined ? undefined : judge(a, b)
    if (judged !== undefined) return judged
    if (isPair(a)) return isPair(b) && same(a.key, b.key) && same(a.value, b.value)
    if (isAlias(a)) return isAlias(b) && a.source === b.source
    if (isScalar(a)) return isScalar(b) && a.anchor === b.anchor && a.tag === b.tag && isSameScalar(a.value, b.value)
    if (!isCollection(a)) return a === b
    if (!isCollection(b) || isMap(a) !== isMap(b) || a.anchor !== b.anchor || a.tag !== b.tag) return false
    return (
      a.items.length === b.items.length && a.items.every((item: unknown, index: number) => same(item, b.items[index]))
    )
  }
  return same(one, other)
}

const isSameScalar = (one: unknown, other: unknown): boolean =>
  Object.is(one, other) ||
  (typeof one === 'object' && typeof other === 'object' && String(one) === String(other)) ||
  (typeof one === 'symbol' && typeof other === 'symbol' && one.description === other.description)

/** True when a node reads as a value, keys in the same order. */
export function isValue(node: unknown, value: Value): boolean {
  if (isScalar(node)) return Object.is(node.value, value)
  if (isSeq(node))
    return (
      isList(value) &&
      node.items.length === value.length &&
      node.items.every((item, index) => isValue(item, value[index]!))
    )
  if (!isMap(node) || !isValueMap(value) || node.items.length !== value.size) return false
  const pairs = [...value]
  return node.items.every(
    (pair, index) =>
      isScalar(pair.key) && Object.is(pair.key.value, pairs[index]![0]) && isValue(pair.value, pairs[index]![1]),
  )
}
