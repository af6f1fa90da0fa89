import { setMaxListeners } from 'node:events'
import type { Random } from '../../budget/lives/draw.ts'
import { type Broker, startBroker } from '../../link/broker.ts'
import type { Opening, Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import { Contact, contactFacts, wake } from './contact.ts'
import type { Act } from './demo-acts.ts'

/** Milliseconds from power to CONNECT, and how much they vary: 3.5 to 4 s to the word is common practice for a cold join. */
const JOIN_MILLISECONDS = { least: 3400, spread: 400 } as const
const RESTART_SECONDS = 5
/** Seconds a door stands open, and what is told of it. */
const DOORS: Partial<Record<Act['what'], { least: number; spread: number; ajar: string; shut: string }>> = {
  passes: { least: 2, spread: 10, ajar: 'ajar', shut: 'shut' },
  rattles: { least: 0.3, spread: 0, ajar: 'rattles in the wind', shut: 'still: that was one opening' },
  'stays-open': { least: 60, spread: 120, ajar: 'ajar, and somebody left it so', shut: 'shut at last' },
}

/** The house's broker and its contacts; each is a real MQTT client on a socket of its own. */
export class DemoHouse {
  readonly #register: Register
  readonly #random: Random
  readonly #speed: number
  readonly #tell: (line: string) => void
  readonly #signal: AbortSignal
  readonly #boots: Map<string, number>
  readonly #doors = new Map<string, Contact>()
  /** Doors that somebody is at or has left open, and modules that the broker still holds for awake. */
  readonly #busy = new Set<string>()
  readonly #doorWords = new Map<string, 'opened' | 'closed'>()
  readonly #contacts = new Set<Contact>()
  #broker: Broker

  constructor(
    broker: Broker,
    given: {
      register: Register
      random: Random
      speed: number
      tell: (line: string) => void
      signal: AbortSignal
      /** Boot counts of earlier days by mark. */
      boots?: ReadonlyMap<string, number>
    },
  ) {
    this.#boots = new Map(given.boots)
    this.#broker = broker
    this.#register = given.register
    this.#random = given.random
    this.#speed = given.speed
    this.#tell = given.tell
    this.#signal = given.signal
    // As many acts overlap as there are doors and windows.
    setMaxListeners(0, given.signal)
  }

  /** Rest words of earlier days, for every cell but the last; the doors join and say that they are shut. */
  async moveIn(): Promise<{ rest: number; doors: number }> {
    const ofCells = this.#register.openings.filter(each => each.sender.power === 'cell')
    const known = ofCells.slice(0, -1)
    for (const opening of known) {
      const facts = this.#facts(opening)
      const contact = await this.#keep(Contact.join(facts, this.#at))
      await contact.say(facts.will, { retain: true })
      await contact.leave()
    }
    const doors = this.#register.openings.filter(each => each.sender.reports === 'both')
    for (const door of doors) {
      this.#doorWords.set(door.mark, 'closed')
      await this.#hang(door)
    }
    return { rest: known.length, doors: doors.length }
  }

  /** Plays one act to its end. Of an opening that is busy nothing more is played. */
  async play(act: Act): Promise<void> {
    if (act.what === 'restart') return this.#restart()
    const opening = this.#opening(act.mark)
    const say = (text: string) => this.#tell(`${opening.mark} ${opening.name}: ${text}`)
    if (this.#busy.has(act.mark) || (act.what === 'twins' && this.#busy.has(act.other))) return
    if (opening.sender.reports === 'both') {
      this.#busy.add(act.mark)
      return this.#playDoor(opening, act.what, say).finally(() => this.#busy.delete(act.mark))
    }
    try {
      say(await this.#playCell(opening, act))
    } catch (error) {
      if (this.#signal.aborted) throw error
      say('opened while the broker was away: its word is lost, and nothing can know of it')
    }
  }

  async #playCell(opening: Opening, act: Act): Promise<string> {
    await this.#open(opening, { diesBeforeWord: act.what === 'dies' })
    switch (act.what) {
      case 'dies':
        return 'opened, but its cell died before the word: only a rest word will come, and then nothing more'
      case 'bounces':
        await this.#pause(4)
        await this.#open(opening)
        return 'opened, shut and opened again at once: one opening, two sends'
      case 'twins': {
        const other = this.#opening(act.other)
        // The second has booted already when it meets the first.
        await this.#open(other, { clientId: opening.client, joinMilliseconds: 300 })
        return `opened, and ${other.mark} too, which was flashed with the same client id: they put each other off`
      }
      default:
        return 'opened. Shut or not, its rest word comes in some seconds'
    }
  }

  async #playDoor(door: Opening, what: Act['what'], say: (text: string) => void): Promise<void> {
    const { least, spread, ajar, shut } = DOORS[what] ?? DOORS.passes!
    for (let times = what === 'rattles' ? 3 : 1; times > 0; times--) {
      await this.#edge(door, 'opened')
      if (times === 1) say(ajar)
      await this.#pause((least + spread * this.#random()) / (what === 'rattles' ? 1 : this.#speed))
      await this.#edge(door, 'closed')
      if (times > 1) await this.#pause(least)
    }
    say(shut)
  }

  async close(): Promise<void> {
    for (const contact of this.#contacts) contact.drop()
    await this.#broker.close()
  }

  get #at() {
    return { host: '127.0.0.1', port: this.#broker.mqttPort }
  }

  #opening(mark: string): Opening {
    const opening = this.#register.openings.find(each => each.mark === mark)
    if (!opening) throw new RangeError(`no opening has the mark ${mark}`)
    return opening
  }

  #facts(opening: Opening) {
    const boots = this.#boots.get(opening.mark) ?? 0
    return contactFacts(opening, { boots, millivolts: Math.round(2990 - 4 * boots + 20 * this.#random()) })
  }

  async #open(opening: Opening, odd: { diesBeforeWord?: boolean; clientId?: string; joinMilliseconds?: number } = {}) {
    this.#boots.set(opening.mark, (this.#boots.get(opening.mark) ?? 0) + 1)
    const facts = this.#facts(opening)
    const { clientId = facts.clientId, diesBeforeWord = false } = odd
    await this.#pause(
      (odd.joinMilliseconds ?? JOIN_MILLISECONDS.least + JOIN_MILLISECONDS.spread * this.#random()) / 1000,
    )
    const contact = await this.#keep(wake({ ...facts, clientId }, { ...this.#at, diesBeforeWord }))
    this.#busy.add(opening.mark)
    void contact.closed.then(() => this.#busy.delete(opening.mark))
  }

  /** A door on mains power: joined for good, and again whenever the broker is back. */
  async #hang(door: Opening): Promise<void> {
    const contact = await this.#keep(Contact.join(this.#facts(door), this.#at))
    this.#doors.set(door.mark, contact)
    contact.stay()
    await this.#edge(door, this.#doorWords.get(door.mark) ?? 'closed')
    void contact.closed.then(() => this.#hangAgain(door))
  }

  async #hangAgain(door: Opening): Promise<void> {
    this.#doors.delete(door.mark)
    while (!this.#signal.aborted) {
      try {
        await this.#pause(1)
        return await this.#hang(door)
      } catch {
        // The broker is not back yet.
      }
    }
  }

  async #edge(door: Opening, word: 'opened' | 'closed'): Promise<void> {
    this.#doorWords.set(door.mark, word)
    const facts = this.#facts(door)
    await this.#doors.get(door.mark)?.say(facts[word] ?? facts.opened)
  }

  async #restart(): Promise<void> {
    const { mqttPort, websocketPort } = this.#broker
    this.#tell('the broker stops')
    await this.#broker.close()
    for (;;) {
      await this.#pause(RESTART_SECONDS)
      try {
        this.#broker = await startBroker({ mqttPort, websocketPort })
        return this.#tell('the broker is back; being the kind that keeps nothing, it has forgotten every word')
      } catch (error) {
        this.#tell(`the broker cannot come back yet: ${messageOf(error)}`)
      }
    }
  }

  async #keep(joining: Promise<Contact>): Promise<Contact> {
    const contact = await joining
    this.#contacts.add(contact)
    void contact.closed.then(() => this.#contacts.delete(contact))
    return contact
  }

  /** @throws the signal's reason when the demo ends */
  #pause(seconds: number): Promise<void> {
    return pause(seconds, this.#signal)
  }
}

/** @throws the signal's reason when it is aborted first */
export function pause(seconds: number, signal: AbortSignal): Promise<void> {
  return new Promise((done, failed) => {
    if (signal.aborted) return failed(signal.reason)
    const stopped = () => {
      clearTimeout(timer)
      failed(signal.reason)
    }
    const timer = setTimeout(() => {
      signal.removeEventListener('abort', stopped)
      done()
    }, seconds * 1000)
    signal.addEventListener('abort', stopped, { once: true })
  })
}
