import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { registerSteps } from '../../register/parse.ts'
import { messageOf } from '../../text/message-of.ts'
import { MINUTE } from '../../text/time.ts'
import { inTurns } from '../effects/in-turns.ts'
import type { RegisterFound } from '../state/register.ts'

/** The file is looked at again this often: an edited register needs no walk to the tablet. */
const AGAIN_MILLISECONDS = 10 * MINUTE
const INLINE = 'script[type="application/yaml"],script[type="application/json"]'

type Host = ReactiveControllerHost & HTMLElement

interface On {
  /** Another address is asked. */
  asked(): void
  found(found: RegisterFound, url: string): void
}

/** Where the register comes from: a URL, or a `<script type="application/yaml">` (or json) among the children. */
export class RegisterSource implements ReactiveController {
  readonly #host: Host
  readonly #on: On
  #url = ''
  /** What was read last: the same again is no news. */
  #text: string | undefined
  #readAt: number | undefined
  #round = 0
  #observer: MutationObserver | undefined

  constructor(host: Host, on: On) {
    this.#host = host
    this.#on = on
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
    this.#on.asked()
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
    const round = ++this.#round
    if (this.#url) void this.#fetch(this.#url, round)
    else if (inline?.textContent?.trim()) void this.#take(inline.textContent, round)
    else if (document.readyState !== 'loading') {
      this.#text = undefined
      this.#on.found({ state: 'none' }, '')
    }
  }

  async #fetch(url: string, round: number): Promise<void> {
    let text: string
    try {
      const answer = await fetch(url, { cache: 'no-cache' })
      if (!answer.ok) throw new Error(`${answer.status} ${answer.statusText}`.trim())
      text = await answer.text()
    } catch (error) {
      const why = messageOf(error)
      if (round === this.#round) this.#on.found({ state: 'unread', url, why }, url)
      return
    }
    if (round === this.#round) await this.#take(text, round)
  }

  async #take(text: string, round: number): Promise<void> {
    if (text === this.#text) return
    const { register, problems } = await inTurns(registerSteps(text))
    if (round !== this.#round) return
    this.#text = text
    this.#on.found(register ? { state: 'read', register } : { state: 'bad', problems }, this.#url)
  }
}
