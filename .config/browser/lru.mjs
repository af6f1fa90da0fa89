/** Keys with their values; the least recently used of more than `max` makes room. */
export class LRUCache {
  #map = new Map()
  #max
  constructor({ max }) {
    this.#max = max
  }
  get size() {
    return this.#map.size
  }
  get(key) {
    const value = this.#map.get(key)
    if (value !== undefined) this.set(key, value)
    return value
  }
  set(key, value) {
    this.#map.delete(key)
    this.#map.set(key, value)
    if (this.#map.size > this.#max) this.#map.delete(this.#map.keys().next().value)
  }
  clear() {
    this.#map.clear()
  }
  /** From the most recently used on. */
  keys() {
    return [...this.#map.keys()].reverse()
  }
}
