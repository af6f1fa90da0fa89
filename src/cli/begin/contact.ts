import { connect as connectTcp, isIP, type Socket } from 'node:net'
import { connect as connectTls } from 'node:tls'
import { generate, type Packet, parser } from 'mqtt-packet'
import { payloadFormat, payloadText } from '../../emit/firmware/printf-payload.ts'
import type { Opening } from '../../register/types.ts'

/** What is built into a contact: the facts of its firmware. */
export interface ContactFacts {
  readonly clientId: string
  readonly topic: string
  readonly keepAliveSeconds: number
  readonly qos: 0 | 1
  /** Payload of each word; `rest` or `gone` is the will. */
  readonly opened: string
  readonly closed?: string
  readonly will: string
  /** Whether the words are published retained; the will always is. */
  readonly retain: boolean
}

/** What a module puts into a JSON payload beside its word. */
export interface Vitals {
  readonly boots?: number
  readonly millivolts?: number
  readonly joinMilliseconds?: number
}

/** Facts of the contact that the register describes. QoS 2 is spoken as 1. */
export function contactFacts(opening: Opening, given: Vitals = {}): ContactFacts {
  const { sender, revision } = opening
  const { words, json } = sender
  const payload = (word: string) =>
    json
      ? payloadText(payloadFormat(json, word, revision), { boots: 1, millivolts: 3000, joinMilliseconds: 1, ...given })
      : word
  return {
    clientId: opening.client,
    topic: opening.topic,
    keepAliveSeconds: sender.keepAliveSeconds,
    qos: sender.qos === 0 ? 0 : 1,
    opened: payload(words.opened),
    ...(words.closed === undefined ? {} : { closed: payload(words.closed) }),
    // The broker keeps the will from before the word: it can carry no count, so it is the bare word.
    will: words.gone ?? words.rest ?? '',
    retain: sender.reports === 'both',
  }
}

export interface ContactOptions {
  readonly host: string
  readonly port: number
  readonly user?: string
  readonly password?: string
  /** Over TLS; the broker's certificate is checked. */
  readonly tls?: boolean
  /** Publish the will not retained, as a mis-set module does. */
  readonly willRetained?: boolean
}

const TIMEOUT_MILLISECONDS = 10_000

/** A module's MQTT over a plain TCP socket: it can fall silent without closing it, as one that loses its power does. */
export class Contact {
  readonly #facts: ContactFacts
  readonly #socket: Socket
  readonly #waiting = new Map<string, (packet: Packet) => void>()
  readonly #closed: Promise<void>
  #packetId = 0
  #pings: ReturnType<typeof setInterval> | undefined
  #silent = false

  private constructor(facts: ContactFacts, socket: Socket) {
    this.#facts = facts
    this.#socket = socket
    const packets = parser({ protocolVersion: 4 })
    packets.on('packet', (packet: Packet) => {
      if (!this.#silent) this.#waiting.get(`${packet.cmd} ${packet.messageId ?? ''}`)?.(packet)
    })
    socket.on('data', bytes => packets.parse(bytes as Buffer))
    socket.on('error', () => {})
    this.#closed = new Promise(done =>
      socket.once('close', () => {
        clearInterval(this.#pings)
        done()
      }),
    )
  }

  /**
   * Joins: TCP, CONNECT with the will, CONNACK.
   * @throws Error when the broker cannot be reached or refuses
   */
  static async join(facts: ContactFacts, options: ContactOptions): Promise<Contact> {
    const { host, port } = options
    const named = isIP(host) ? {} : { servername: host }
    const socket = options.tls ? connectTls({ host, port, ...named }) : connectTcp({ host, port, noDelay: true })
    const opened = options.tls ? 'secureConnect' : 'connect'
    await new Promise<void>((done, failed) => socket.once(opened, () => done()).once('error', failed))
    const contact = new Contact(facts, socket)
    const answer = contact.#answer('connack ')
    contact.#send({
      cmd: 'connect',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      clientId: facts.clientId,
      keepalive: facts.keepAliveSeconds,
      will: {
        topic: facts.topic,
        payload: Buffer.from(facts.will),
        qos: facts.qos,
        retain: options.willRetained ?? true,
      },
      ...(options.user === undefined ? {} : { username: options.user }),
      ...(options.password === undefined ? {} : { password: Buffer.from(options.password) }),
    })
    const connack = await answer
    if (connack.cmd !== 'connack' || connack.returnCode !== 0) {
      socket.destroy()
      throw new Error(
        `the broker refused ${facts.clientId}: return code ${connack.cmd === 'connack' ? connack.returnCode : '?'}`,
      )
    }
    return contact
  }

  /** Resolves when the connection is closed, by whichever side. */
  get closed(): Promise<void> {
    return this.#closed
  }

  /** Publishes one payload and waits for the broker's acknowledgement (QoS 1). */
  async say(
    payload: string | Uint8Array,
    { topic = this.#facts.topic, retain = this.#facts.retain, dup = false } = {},
  ): Promise<void> {
    const { qos } = this.#facts
    const messageId = ++this.#packetId
    const acknowledged = qos === 1 ? this.#answer(`puback ${messageId}`) : undefined
    this.#send({
      cmd: 'publish',
      topic,
      payload: Buffer.from(payload),
      qos,
      retain,
      dup,
      ...(qos ? { messageId } : {}),
    })
    await acknowledged
  }

  /** Pings as a mains contact does, until it falls silent or leaves. */
  stay(): void {
    this.#pings ??= setInterval(() => this.#send({ cmd: 'pingreq' }), this.#facts.keepAliveSeconds * 1000)
    this.#pings.unref()
  }

  /** Power is gone: sends nothing more and leaves the socket open. The broker finds out by the keep-alive. */
  fallSilent(): void {
    this.#silent = true
    clearInterval(this.#pings)
  }

  /** Ends politely, with DISCONNECT: the broker publishes no will. */
  async leave(): Promise<void> {
    clearInterval(this.#pings)
    this.#send({ cmd: 'disconnect' })
    this.#socket.end()
    await this.#closed
  }

  /** Closes the socket without DISCONNECT: the broker publishes the will at once. */
  drop(): void {
    this.#socket.destroy()
  }

  #send(packet: Packet): void {
    if (!this.#socket.destroyed) this.#socket.write(generate(packet))
  }

  #answer(to: string): Promise<Packet> {
    return new Promise((done, failed) => {
      const lost = (why: string) => () => {
        settle()
        failed(new Error(`${this.#facts.clientId} waited for ${to.trim()}: ${why}`))
      }
      const gone = lost('the connection was closed')
      const timer = setTimeout(lost('no answer came'), TIMEOUT_MILLISECONDS)
      const settle = () => {
        clearTimeout(timer)
        this.#waiting.delete(to)
        this.#socket.off('close', gone)
      }
      this.#socket.once('close', gone)
      this.#waiting.set(to, packet => {
        settle()
        done(packet)
      })
    })
  }
}

export interface WakeOptions extends ContactOptions {
  /** Power to CONNECT, milliseconds: boot and join. */
  readonly joinMilliseconds?: number
  /** How it ends. Default `silent`: the reed opens again or it sleeps, and the socket stays open. */
  readonly ending?: 'silent' | 'disconnect' | 'drop'
  /** Dies between CONNECT and its word, as a spent cell does. */
  readonly diesBeforeWord?: boolean
  /** Publishes elsewhere than the register says. */
  readonly topic?: string
}

/**
 * One opening of a contact that powers up by its reed: joins, says its word, falls silent.
 * @returns the contact, whose `closed` resolves when the broker has given it up
 * @throws Error when it cannot join or its word is not acknowledged
 */
export async function wake(facts: ContactFacts, options: WakeOptions): Promise<Contact> {
  if (options.joinMilliseconds) await new Promise(done => setTimeout(done, options.joinMilliseconds))
  const contact = await Contact.join(options.topic === undefined ? facts : { ...facts, topic: options.topic }, options)
  if (options.diesBeforeWord) {
    contact.fallSilent()
    return contact
  }
  await contact.say(facts.opened)
  if (options.ending === 'disconnect') await contact.leave()
  else if (options.ending === 'drop') contact.drop()
  else contact.fallSilent()
  return contact
}
