import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { credentialsIn } from '../state/kept.ts'
import type { Credentials } from '../world.ts'

/** The broker's user name and password, asked once and kept on this tablet alone, a pair for each broker. */
export class AccountKeeper implements ReactiveController {
  readonly #host: ReactiveControllerHost
  #broker = ''
  #account: Credentials | undefined

  constructor(host: ReactiveControllerHost) {
    this.#host = host
    host.addController(this)
  }

  hostConnected(): void {}

  for(broker: string): Credentials | undefined {
    if (broker !== this.#broker) {
      this.#broker = broker
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
      localStorage.setItem(this.#key, JSON.stringify(account))
    } catch {
      // A page without storage asks again after a reload.
    }
    this.#host.requestUpdate()
  }

  forget(): void {
    this.#account = undefined
    try {
      localStorage.removeItem(this.#key)
    } catch {
      // Nothing was kept.
    }
    this.#host.requestUpdate()
  }

  get #key(): string {
    return `sashtally account ${this.#broker}`
  }

  #read(): Credentials | undefined {
    try {
      return credentialsIn(localStorage.getItem(this.#key) ?? undefined)
    } catch {
      return undefined
    }
  }
}
