import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { parseRegister } from '../../register/parse.ts'
import type { Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import { MINUTE } from '../../text/time.ts'

/** There is no register to be had. */
export type Trouble =
  | { readonly state: 'none' }
  | { readonly state: 'unread'; readonly url: string; readonly why: string }
  | { readonly state: 'bad'; readonly problems: readonly Problem[] }
export type HouseState =
  | { readonly state: 'loading' }
  | Trouble
  | {
      readonly state: 'read'
      readonly register: Register
      readonly problems: readonly Problem[]
      /** The register as it is now does not read: this is the last good one. */
      readonly trouble?: Trouble
    }

/** The file is looked at again this often: an edited register needs no walk to the tablet. */
const AGAIN_MILLISECONDS = 10 * MINUTE
const INLINE = 'script[type="application/yaml"],script[type="application/json"]'

type Host = ReactiveControllerHost & HTMLElement

/** The register: from a URL, or from a `<script type="application/yaml">` (or json) among the element's children. */
export class HouseSource implements ReactiveController {
  state: HouseState = { state: 'loading' }
  readonly #host: Host
  readonly #changed: () => void
  #url = ''
  #text: string | undefined
  /** Where the last good register came from. */
  #readUrl: string | undefined
  #readAt: number | undefined
  #round = 0
  #observer: MutationObserver | undefined

  constructor(host: Host, changed: () => void) {
    this.#host = host
    this.#changed = changed
    host.addController(this)
  }

  hostConnected(): void {
    this.#observer = new MutationObserver(() => this.#load())
    this.#observer.observe(this.#host, { childList: true, characterData: true, subtree: true })
    if (document.readyState === 'loading') document.addEventListener('DOMContentLoaded', this.#load, { once: true })
    this.#load()
  }

  hostDisconnected(): void {
    this.#observer?.disconnect()
    document.removeEventListener('DOMContentLoaded', this.#load)
    this.#round++
  }

  /** The register's URL as written in the attribute; empty: none. */
  set url(url: string) {
    if (url === this.#url) return
    this.#url = url
    this.#text = undefined
    if (this.state.state !== 'read') this.state = { state: 'loading' }
    if (this.#host.isConnected) this.#load()
  }

  tick(now: number): void {
    this.#readAt ??= now
    if (!this.#url || Math.abs(now - this.#readAt) <= AGAIN_MILLISECONDS) return
    this.#readAt = now
    this.#load()
  }

  readonly #load = () => {
    const inline = this.#url ? null : this.#host.querySelector(INLINE)
    if (this.#url) void this.#fetch(this.#url, ++this.#round)
    else if (inline?.textContent?.trim()) this.#take(inline.textContent)
    else if (document.readyState !== 'loading') {
      this.#text = undefined
      this.#set({ state: 'none' })
    }
  }

  async #fetch(url: string, round: number): Promise<void> {
    let text: string
    try {
      const answer = await fetch(url, { cache: 'no-cache' })
      if (!answer.ok) throw new Error(`${answer.status} ${answer.statusText}`.trim())
      text = await answer.text()
    } catch (error) {
      // What was read from there before holds until a newer one comes.
      if (round === this.#round && !(this.state.state === 'read' && this.#readUrl === url)) {
        this.#set({ state: 'unread', url, why: error instanceof Error ? error.message : String(error) })
      }
      return
    }
    if (round === this.#round) this.#take(text)
  }

  #take(text: string): void {
    if (text === this.#text) return
    this.#text = text
    const { register, problems } = parseRegister(text)
    this.#set(register ? { state: 'read', register, problems } : { state: 'bad', problems })
  }

  #set(next: HouseState): void {
    const { state } = this
    const isTrouble = next.state !== 'read' && next.state !== 'loading'
    this.state = isTrouble && state.state === 'read' ? { ...state, trouble: next } : next
    if (!isTrouble) this.#readUrl = this.#url
    this.#changed()
    this.#host.requestUpdate()
  }
}
