interface Request {
  readonly isPublish: boolean
  done(codes: readonly number[]): void
  failed(error: Error): void
}

const MOST_IDS = 65_535

/** Packets that wait for their answer, by packet id (sections 2.3.1 of MQTT 3.1.1, 2.2.1 of MQTT 5.0). */
export class Requests {
  /** Most messages that may wait for their acknowledgement; further ones queue here. MQTT 5.0, section 3.3.4. */
  mostPublishes = MOST_IDS
  readonly #waiting = new Map<number, Request>()
  readonly #queue: (() => void)[] = []
  #publishes = 0
  #lastId = 0
  #failure: Error | undefined
  #onSettled: (() => void)[] = []

  /** Sends a packet with an id of its own; resolves with the codes of its answer. */
  ask(send: (packetId: number) => void): Promise<readonly number[]> {
    return this.#ask(send, false)
  }

  /** As `ask`, for a message of QoS 1. */
  publish(send: (packetId: number) => void): Promise<readonly number[]> {
    if (this.#publishes < this.mostPublishes) return this.#ask(send, true)
    return new Promise((done, failed) => this.#queue.push(() => this.#ask(send, true).then(done, failed)))
  }

  /** An answer that nobody waits for is passed over. */
  answer(packetId: number, codes: readonly number[]): void {
    const request = this.#waiting.get(packetId)
    if (!request) return
    this.#waiting.delete(packetId)
    request.done(codes)
    if (request.isPublish) {
      this.#publishes--
      this.#queue.shift()?.()
    }
    if (this.#waiting.size === 0) for (const done of this.#onSettled.splice(0)) done()
  }

  /** Resolves when nothing waits for an answer. */
  async settled(): Promise<void> {
    if (this.#waiting.size > 0) await new Promise<void>(done => this.#onSettled.push(done))
  }

  /** Nothing will be answered any more: all that waits fails, and all that comes. */
  fail(error: Error): void {
    this.#failure = error
    for (const request of this.#waiting.values()) request.failed(error)
    this.#waiting.clear()
    for (const send of this.#queue.splice(0)) send()
    for (const done of this.#onSettled.splice(0)) done()
  }

  #ask(send: (packetId: number) => void, isPublish: boolean): Promise<readonly number[]> {
    return new Promise((done, failed) => {
      if (this.#failure) throw this.#failure
      const packetId = this.#freeId()
      send(packetId)
      this.#waiting.set(packetId, { isPublish, done, failed })
      if (isPublish) this.#publishes++
    })
  }

  #freeId(): number {
    if (this.#waiting.size >= MOST_IDS) throw new Error('the broker owes an answer to 65535 packets')
    do this.#lastId = (this.#lastId % MOST_IDS) + 1
    while (this.#waiting.has(this.#lastId))
    return this.#lastId
  }
}
