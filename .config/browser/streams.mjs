// What the MQTT client asks of streams: a sink that takes one chunk at a time, and a WebSocket that
// sends what was written in one turn as one frame.
import { Buffer } from './buffer.mjs'
import { EventEmitter } from './events.mjs'

/** `_write(chunk, encoding, done)` is the owner's. */
export class Writable {
  #waiting = []
  #busy = false
  write(chunk) {
    this.#waiting.push(chunk)
    if (!this.#busy) this.#next()
  }
  #next() {
    this.#busy = this.#waiting.length > 0
    if (this.#busy) this._write(this.#waiting.shift(), 'buffer', () => this.#next())
  }
}

/** Only named by parts of the client that a browser does not run. */
export class Duplex {}
export class Transform {}
export class Readable {}

export class SocketStream extends EventEmitter {
  #socket
  #chunks = []
  #planned = false
  #destroyed = false
  #sink

  constructor(socket) {
    super()
    this.#socket = socket
    socket.binaryType = 'arraybuffer'
    socket.addEventListener('open', () => this.#send())
    socket.addEventListener('message', ({ data }) => {
      if (!this.#destroyed) this.#sink?.write(Buffer.from(data))
    })
    socket.addEventListener('close', () => this.destroy())
    socket.addEventListener('error', () => this.destroy(new Error('WebSocket error')))
  }
  pipe(sink) {
    this.#sink = sink
    return sink
  }
  write(chunk) {
    this.#chunks.push(typeof chunk === 'string' ? Buffer.from(chunk) : chunk)
    if (!this.#planned) {
      this.#planned = true
      queueMicrotask(() => this.#send())
    }
    return true
  }
  #send() {
    this.#planned = false
    if (this.#chunks.length === 0 || this.#socket.readyState !== WebSocket.OPEN) return
    this.#socket.send(Buffer.concat(this.#chunks.splice(0)))
  }
  end(done) {
    this.#send()
    this.#socket.close()
    done?.()
  }
  destroy(error) {
    if (this.#destroyed) return this
    this.#destroyed = true
    this.#socket.close()
    queueMicrotask(() => {
      if (error && this.listenerCount('error') > 0) this.emit('error', error)
      this.emit('close')
    })
    return this
  }
}
