import { brokerOf } from '../../register/topics.ts'

/** What only one house may have: the file that came first has it, until it lets go. */
export class Claims {
  readonly #holders = new Map<string, string>()

  /**
   * Takes all of `wanted`, in the place of what `file` had before, or nothing.
   * @returns the first that another file has
   */
  take(file: string, wanted: readonly string[]): { readonly what: string; readonly holder: string } | undefined {
    this.release(file)
    for (const what of wanted) {
      const holder = this.#holders.get(what)
      if (holder !== undefined) return { what, holder }
    }
    for (const what of wanted) this.#holders.set(what, file)
    return undefined
  }

  release(file: string): void {
    for (const [what, holder] of this.#holders) if (holder === file) this.#holders.delete(what)
  }
}

/** One broker, however its address is written. */
export function brokerNamed(address: string): string {
  const broker = brokerOf(address)
  return broker ? `${broker.host}:${broker.port}` : address
}
