import { Duplex } from 'node:stream'

interface Chunk {
  readonly chunk: Uint8Array
}

/** How long what has been received may stay unread after the other side has closed. */
const UNREAD_MILLISECONDS = 1_000

/**
 * A stream over `inner` that hands on all that was written in one turn as one write: one WebSocket frame
 * instead of five for each MQTT packet. `pass` may hold bytes back; what it answers is written.
 */
export class Joined extends Duplex {
  readonly #inner: Duplex
  readonly #pass: (bytes: Uint8Array) => Uint8Array
  #ended = false

  constructor(inner: Duplex, pass: (bytes: Uint8Array) => Uint8Array = bytes => bytes) {
    super({ decodeStrings: true })
    this.#inner = inner
    this.#pass = pass
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

  /** Writes past `pass`, for bytes that it held back before. */
  inject(bytes: Uint8Array): void {
    if (!this.destroyed && this.#inner.writable) this.#inner.write(bytes)
  }

  override _read(): void {
    this.#inner.resume()
  }

  override _write(chunk: Uint8Array, _encoding: string, done: (error?: Error | null) => void): void {
    const bytes = this.#pass(chunk)
    if (bytes.length === 0) done()
    else this.#inner.write(bytes, error => done(error))
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
