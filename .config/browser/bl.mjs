import { Buffer } from './buffer.mjs'

/** Bytes that arrived and were not yet parsed. */
class Bytes {
  #bytes = Buffer.alloc(0)
  get length() {
    return this.#bytes.length
  }
  append(more) {
    const chunk = Buffer.from(more.buffer, more.byteOffset, more.byteLength)
    this.#bytes = this.#bytes.length > 0 ? Buffer.concat([this.#bytes, chunk]) : chunk
  }
  consume(count) {
    this.#bytes = this.#bytes.subarray(count)
  }
  slice(start, end) {
    return this.#bytes.subarray(start, end)
  }
  toString(encoding, start, end) {
    return this.#bytes.toString(encoding, start, end)
  }
  readUInt8(offset) {
    return this.#bytes.readUInt8(offset)
  }
  readUInt16BE(offset) {
    return this.#bytes.readUInt16BE(offset)
  }
  readUInt32BE(offset) {
    return this.#bytes.readUInt32BE(offset)
  }
}

export default () => new Bytes()
