import { named } from '../../link/refusals.ts'

/** Topic filters that the broker does not let the keeper read. */
export class UnreadableFilters {
  #refused = new Set<string>()
  /** Those that are being asked for again and have not been refused again yet. */
  #asked = new Set<string>()

  get filters(): readonly string[] {
    return [...this.#refused]
  }

  /** What a person should know; undefined while everything may be read. */
  get problem(): string | undefined {
    if (this.#refused.size === 0) return undefined
    return `the broker does not let this account read ${named(this.filters)}: nothing there is heard; mend its access list`
  }

  /** The broker refuses these. */
  refuse(filters: readonly string[]): void {
    for (const filter of filters) {
      this.#refused.add(filter)
      this.#asked.delete(filter)
    }
  }

  /** Only these are listened to from now on. */
  keep(filters: readonly string[]): void {
    this.#refused = new Set(this.filters.filter(filter => filters.includes(filter)))
    this.#asked = new Set([...this.#asked].filter(filter => filters.includes(filter)))
  }

  /** All is asked for again. */
  ask(): void {
    this.#asked = new Set(this.#refused)
  }

  /** The broker has answered: what it did not refuse again may be read. */
  answered(): readonly string[] {
    const heard = [...this.#asked]
    this.#asked.clear()
    for (const filter of heard) this.#refused.delete(filter)
    return heard
  }
}
