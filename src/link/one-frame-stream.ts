import { Duplex } from 'node:stream'

interface Chunk {
  readonly chunk: Uint8Array
}

/** How long what has been received may stay unread after the other side has closed. */
const UNREAD_MILLISECONDS = 1_000

/**
 * A stream over `inner` that hands on all that was written in one turn as one write: one WebSocket frame
 * instead of five for each MQTT packet.
 */
export class OneFrameStream extends Duplex {
  readonly #inner: Duplex
  #ended = false

  constructor(inner: Duplex) {
    super({ decodeStrings: true })
    this.#inner = inner
    inner.on('data', (bytes: Uint8Array) => {
      if (!this.push(bytes)) inner.pause()
    })
    inner.on('end', () => this.#finish())
    inner.on('error', error => this.destroy(error))
    inner.on('close', () => this.#finish())
  }

  /** Half a connection is none in MQTT. What came before its end is read first: it may say why. */
  #finish(): void {
    if (this.#ended || this.destroyed) return
    this.#ended = true
    this.once('end', () => this.destroy())
    this.push(null)
    setTimeout(() => this.destroy(), UNREAD_MILLISECONDS).unref()
  }

  override _read(): void {
    this.#inner.resume()
  }

  override _write(chunk: Uint8Array, _encoding: string, done: (error?: Error | null) => void): void {
    this.#inner.write(chunk, error => done(error))
  }

  override _writev(chunks: Chunk[], done: (error?: Error | null) => void): void {
    this._write(Buffer.concat(chunks.map(each => each.chunk)), '', done)
  }

  override _final(done: (error?: Error | null) => void): void {
    this.#inner.end(() => done())
  }

  override _destroy(error: Error | null, done: (error?: Error | null) => void): void {
    this.#inner.destroy()
    done(error)
  }
}
