import { policyOf } from '../house/policy.ts'
import type { Ledger } from '../ledger/apply.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import type { Register } from '../register/types.ts'
import type { Journal } from './journal.ts'
import type { Tell } from './log-codes.ts'
import { RESTART, recountSentence } from './publish/sentences.ts'
import type { StatusTopic } from './publish/status-topic.ts'
import { mustRecount, recountSlowly } from './store/rules.ts'
import type { TallyStore } from './store/store.ts'

interface RegisterEditsOptions {
  readonly journal: Journal
  readonly store: TallyStore<Ledger>
  readonly status: StatusTopic
  readonly register: Register
  /** Its contacts are to be listened to from now on. */
  listen(register: Register): void
  readonly tell: Tell
}

/** Goes on with an edited register; where it counts by other rules the whole tally is counted again meanwhile. */
export class RegisterEdits {
  readonly #given: RegisterEditsOptions
  #register: Register
  /** An edit that came while the tally was being counted again. */
  #next: Register | undefined
  #stopped = false
  isRecounting = false

  constructor(given: RegisterEditsOptions) {
    this.#given = given
    this.#register = given.register
  }

  /** The register of now; the address of the broker and the tally's topics are those of the start. */
  get register(): Register {
    return this.#register
  }

  adopt(register: Register): void {
    if (this.isRecounting) {
      this.#next = register
      return
    }
    const { tally, broker } = this.#register
    const { journal, status, tell } = this.#given
    const isElsewhere = register.tally !== tally || JSON.stringify(register.broker) !== JSON.stringify(broker)
    status.notice('restart', isElsewhere ? RESTART : undefined)
    status.notice('register', undefined)
    this.#register = { ...register, tally, broker }
    const policy = policyOf(register)
    if (mustRecount(journal.state.ledger, policy)) void this.#recount(policy)
    else journal.play({ kind: 'register', register: this.#register, policies: policy })
    tell(`the register was read again: ${register.openings.length} openings`, 'register-read')
  }

  stop(): void {
    this.#stopped = true
  }

  async #recount(policy: HousePolicy): Promise<void> {
    const { journal, status, store, listen, tell } = this.#given
    this.isRecounting = true
    journal.hold()
    // What comes meanwhile is kept back, and nobody else would have it.
    listen(this.#register)
    tell('the register counts openings by other rules now: counting the whole tally again', 'recounting')
    const taken = { kind: 'register', register: this.#register, policies: policy } as const
    try {
      const ledger = await recountSlowly(store, policy, () => this.#stopped)
      if (!ledger) return
      journal.release({ ...taken, ledger })
    } catch (error) {
      status.notice('recount', recountSentence(error))
      journal.release(taken)
    }
    this.isRecounting = false
    const next = this.#next
    this.#next = undefined
    if (next) this.adopt(next)
  }
}
