import { CLOUD_EVENT_TYPE, type CloudEvent } from '../../protocol/cloud-event.ts'
import { firstOf } from '../../text/lists.ts'
import { MINUTE } from '../../text/time.ts'
import type { Clock } from '../clock.ts'

/** Waits between the tries of one event: about three quarters of an hour in all. */
const WAITS = [5_000, 30_000, 2 * MINUTE, 10 * MINUTE, 30 * MINUTE] as const
const ANSWER_MILLISECONDS = 10_000
/** Events under way at once; a receiver that is away for days does not fill the memory. */
const MOST = 100

/** Answers that may be another one later: RFC 9110, section 15, and RFC 6585 for 429. */
const PASSING = new Set([408, 425, 429])

export interface AlertPostOptions {
  readonly clock: Clock
  /** What the keeper says of it, in its log and on the sheet; undefined: nothing any more. */
  say(text: string | undefined): void
}

/**
 * Hands alerts on as CloudEvents over HTTP, in structured mode. Each event has its own tries; nobody waits for them, and
 * what was not taken after the last one is dropped and said.
 */
export class AlertPost {
  readonly #o: AlertPostOptions
  /** Ends what each event is waiting for. */
  readonly #waits = new Set<() => void>()
  #underWay = 0
  #stopped = false

  constructor(options: AlertPostOptions) {
    this.#o = options
  }

  send(event: CloudEvent, to: string): void {
    if (this.#underWay >= MOST) {
      this.#drop(event, to, `${MOST} alerts wait for it already`)
      return
    }
    this.#underWay++
    void this.#deliver(event, to).finally(() => {
      this.#underWay--
    })
  }

  /** What is under way is dropped, and said. */
  stop(): void {
    this.#stopped = true
    const left = this.#underWay
    if (left > 0) this.#o.say(`${left} ${left === 1 ? 'alert was' : 'alerts were'} not handed on before the end`)
    for (const end of this.#waits) end()
  }

  async #deliver(event: CloudEvent, to: string): Promise<void> {
    for (let tried = 0; ; tried++) {
      const { why, isFinal } = await this.#post(event, to)
      if (this.#stopped) return
      if (why === undefined) {
        this.#o.say(undefined)
        return
      }
      const wait = WAITS[tried]
      if (isFinal || wait === undefined) {
        this.#drop(event, to, why)
        return
      }
      this.#o.say(`an alert does not reach ${hostOf(to)}: ${why}; trying on`)
      await this.#pause(wait)
    }
  }

  /** One try; `why` is absent where the event was taken. */
  async #post(event: CloudEvent, to: string): Promise<{ readonly why?: string; readonly isFinal?: boolean }> {
    const asking = new AbortController()
    const end = () => asking.abort()
    const cancel = this.#o.clock.after(ANSWER_MILLISECONDS, end)
    this.#waits.add(end)
    try {
      const response = await fetch(to, {
        method: 'POST',
        headers: { 'content-type': CLOUD_EVENT_TYPE },
        body: JSON.stringify(event),
        redirect: 'manual',
        signal: asking.signal,
      })
      void response.body?.cancel().catch(() => {})
      if (response.ok) return {}
      const isFinal = response.status < 500 && !PASSING.has(response.status)
      return { why: `the answer was ${response.status}`, isFinal }
    } catch (error) {
      if (asking.signal.aborted) return { why: `no answer within ${ANSWER_MILLISECONDS / 1000} s` }
      return { why: reasonOf(error) }
    } finally {
      cancel()
      this.#waits.delete(end)
    }
  }

  #drop({ data: { what, marks } }: CloudEvent, to: string, why: string): void {
    this.#o.say(`an alert was dropped (${what}: ${firstOf(marks, 10)}), ${hostOf(to)} did not take it: ${why}`)
  }

  #pause(milliseconds: number): Promise<void> {
    return new Promise(done => {
      const cancel = this.#o.clock.after(milliseconds, end)
      const waits = this.#waits
      waits.add(end)
      function end(): void {
        cancel()
        waits.delete(end)
        done()
      }
    })
  }
}

/** Without path and query, in which a person's key may stand. */
const hostOf = (to: string): string => (URL.canParse(to) ? new URL(to).origin : 'their receiver')

/** Of a fetch that failed: its cause says more. */
function reasonOf(error: unknown): string {
  const { cause, message } = error as Error & { cause?: NodeJS.ErrnoException }
  return cause?.code ?? cause?.message ?? message
}
