import type { Opening } from '../../register/types.ts'
import { DAY } from '../../text/time.ts'
import { Contact, type ContactFacts, type ContactOptions, contactFacts } from '../begin/contact.ts'
import type { Fault } from './rehearse-faults.ts'

/** How long a played window or door stands open, and shut, milliseconds. */
const OPEN = 20_000
const SHUT = 15_000
/** Before a word that was not acknowledged is said again, as the contact program waits for one answer. */
const UNANSWERED = 2_500

/** What a played contact needs of the world around it. */
export interface Stage {
  readonly broker: ContactOptions
  readonly fault: Fault | undefined
  /** Aborted when the rehearsal is over. */
  readonly signal: AbortSignal
  tell(mark: string, what: string): void
  /** It is said on this topic, or will be when the contact is lost. */
  played(topic: string, payload: string): void
}

/** Where a contact is played. */
export const playedTopic = ({ topic }: Opening, fault: Fault | undefined): string =>
  fault === 'wrong-topic' ? `${topic}-elsewhere` : topic

/** One contact that is played, from its join to its last will, again and again. */
export class Player {
  readonly #opening: Opening
  readonly #facts: (boots: number, joinMilliseconds: number) => ContactFacts
  readonly #stage: Stage
  #contact: Contact | undefined
  /** The broker has given the present connection up. */
  #isLost = false
  #boots = 0

  /** @param client - another client id than the register gives */
  constructor(opening: Opening, stage: Stage, client?: string) {
    this.#opening = opening
    this.#stage = stage
    this.#facts = (boots, joinMilliseconds) => {
      const facts = contactFacts(opening, { boots, joinMilliseconds, millivolts: Math.max(2_700, 2_990 - 4 * boots) })
      return {
        ...facts,
        ...(client === undefined ? {} : { clientId: client }),
        topic: playedTopic(opening, stage.fault),
      }
    }
  }

  /** Milliseconds from power to CONNECT. */
  get #join(): number {
    const own = Math.max(200, 1000 * this.#opening.sender.bootSeconds)
    return this.#stage.fault === 'slow-join' ? 3 * own + 5_000 : own
  }

  /**
   * Plays until the rehearsal is over.
   * @throws Error when it cannot join
   */
  async play(): Promise<void> {
    while (!this.#stage.signal.aborted) {
      if (this.#opening.sender.reports === 'both') await this.#edges()
      else await this.#openOnce()
    }
  }

  /**
   * Its power is gone, and its network with it.
   * @returns whether the broker says its last will now
   */
  end(): boolean {
    const isOpen = this.#contact !== undefined && !this.#isLost
    this.#contact?.drop()
    return isOpen
  }

  /**
   * Lets this stand at the broker in the place of what was played: the contact's own account alone may write there.
   * @param payload - empty: nothing
   * @throws Error when it cannot join
   */
  async putBack(payload: Uint8Array): Promise<void> {
    const contact = await Contact.join(this.#facts(this.#boots, this.#join), this.#stage.broker)
    await contact.say(payload, { retain: true })
    await contact.leave()
  }

  #tell(what: string): void {
    if (!this.#stage.signal.aborted) this.#stage.tell(this.#opening.mark, what)
  }

  #pause(milliseconds: number): Promise<void> {
    const { signal } = this.#stage
    return new Promise(done => {
      const over = (): void => {
        clearTimeout(timer)
        signal.removeEventListener('abort', over)
        done()
      }
      const timer = setTimeout(over, milliseconds)
      signal.addEventListener('abort', over, { once: true })
      if (signal.aborted) over()
    })
  }

  async #wake(): Promise<{ facts: ContactFacts; contact: Contact } | undefined> {
    this.#tell('has power')
    await this.#pause(this.#join)
    if (this.#stage.signal.aborted) return undefined
    const facts = this.#facts(++this.#boots, this.#join)
    const contact = await this.#joinAs(facts)
    return { facts, contact }
  }

  async #joinAs(facts: ContactFacts): Promise<Contact> {
    const { broker, fault } = this.#stage
    const contact = await Contact.join(facts, { ...broker, willRetained: fault !== 'will-not-retained' })
    this.#stage.played(facts.topic, facts.will)
    this.#contact = contact
    this.#isLost = false
    // The rehearsal may have ended while the broker answered.
    if (this.#stage.signal.aborted) contact.drop()
    void contact.closed.then(() => {
      if (this.#contact === contact) this.#isLost = true
    })
    return contact
  }

  /** One opening of a contact that powers up by its reed, and the time until its window is opened again. */
  async #openOnce(): Promise<void> {
    const awake = await this.#wake()
    if (!awake) return
    let { facts, contact } = awake
    if (this.#stage.fault === 'dead-cell') this.#tell('is connected, and its cell fails before the word')
    else {
      await this.#say(contact, facts, facts.opened)
      if (this.#stage.fault === 'no-acknowledgement') {
        await this.#pause(UNANSWERED)
        contact.drop()
        contact = await this.#joinAs(facts)
        await this.#say(contact, facts, facts.opened, true)
      }
    }
    contact.fallSilent()
    this.#tell('is silent: its rest word comes by itself')
    await Promise.race([contact.closed, this.#pause(DAY)])
    await this.#pause(1000 * this.#opening.settings.bounceSeconds + SHUT)
  }

  /** A contact that stays connected and says both edges. */
  async #edges(): Promise<void> {
    const awake = await this.#wake()
    if (!awake) return
    const { facts, contact } = awake
    contact.stay()
    await this.#say(contact, facts, facts.closed ?? facts.opened)
    while (!this.#isLost) {
      await this.#pause(SHUT)
      if (this.#stage.signal.aborted) return
      await this.#say(contact, facts, facts.opened)
      if (this.#stage.fault === 'dead-cell') {
        contact.fallSilent()
        this.#tell('is silent: its power failed')
        await Promise.race([contact.closed, this.#pause(DAY)])
        return
      }
      await this.#pause(OPEN)
      if (this.#stage.signal.aborted) return
      await this.#say(contact, facts, facts.closed ?? facts.opened)
    }
  }

  async #say(contact: Contact, facts: ContactFacts, payload: string, dup = false): Promise<void> {
    this.#tell(`says ${payload}${dup ? ' once more' : ''}`)
    this.#stage.played(facts.topic, payload)
    try {
      await contact.say(payload, { topic: facts.topic, dup })
    } catch (error) {
      // Thrown off by its twin, as it must be; any other loss is told, and it joins again.
      this.#tell(`lost its connection: ${(error as Error).message}`)
    }
  }
}
