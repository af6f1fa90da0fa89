import { credentialsIn } from '../state/kept.ts'
import type { Credentials } from '../world.ts'

/** The broker's user name and password, asked once and kept on this tablet alone, a pair for each house at a broker. */
export class AccountKeeper {
  readonly #changed: () => void
  /** Where the pair is kept; and where earlier versions kept one for all houses at the broker, which is still read. */
  #keys: readonly [own: string, older: string] = ['', '']
  #account: Credentials | undefined

  /** @param changed - who this tablet is was said anew */
  constructor(changed: () => void) {
    this.#changed = changed
  }

  for(broker: string, tally: string): Credentials | undefined {
    const older = `sashtally account ${broker}`
    const own = `${older} ${tally}`
    if (own !== this.#keys[0]) {
      this.#keys = [own, older]
      this.#account = this.#read()
    }
    return this.#account
  }

  get kept(): boolean {
    return this.#account !== undefined
  }

  keep(account: Credentials): void {
    this.#account = account
    try {
      localStorage.setItem(this.#keys[0], JSON.stringify(account))
    } catch {
      // A page without storage asks again after a reload.
    }
    this.#changed()
  }

  forget(): void {
    this.#account = undefined
    try {
      for (const key of this.#keys) localStorage.removeItem(key)
    } catch {
      // Nothing was kept.
    }
    this.#changed()
  }

  #read(): Credentials | undefined {
    try {
      const [own, older] = this.#keys.map(key => credentialsIn(localStorage.getItem(key) ?? undefined))
      return own ?? older
    } catch {
      return undefined
    }
  }
}
