// The part of Node's Buffer that MQTT packets need, over typed arrays: UTF-8 text and big-endian numbers.
const encoder = new TextEncoder()
const decoder = new TextDecoder()
const view = bytes => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)

export class Buffer extends Uint8Array {
  static from(value, offset, length) {
    if (typeof value === 'string') return Buffer.from(encoder.encode(value).buffer)
    if (value instanceof ArrayBuffer) return new Buffer(value, offset, length)
    return new Buffer(value)
  }
  static alloc(size) {
    return new Buffer(size)
  }
  static allocUnsafe(size) {
    return new Buffer(size)
  }
  static isBuffer(value) {
    return value instanceof Buffer
  }
  static isEncoding() {
    return true
  }
  static byteLength(value) {
    return typeof value === 'string' ? encoder.encode(value).length : value.byteLength
  }
  static concat(list, total = list.reduce((sum, bytes) => sum + bytes.length, 0)) {
    const joined = new Buffer(total)
    let at = 0
    for (const bytes of list) {
      joined.set(bytes, at)
      at += bytes.length
    }
    return joined
  }
  slice(start, end) {
    return this.subarray(start, end)
  }
  copy(target, targetStart = 0, start = 0, end = this.length) {
    const part = this.subarray(start, end)
    target.set(part, targetStart)
    return part.length
  }
  write(text, offset = 0) {
    return encoder.encodeInto(text, this.subarray(offset)).written
  }
  toString(_encoding, start, end) {
    return decoder.decode(this.subarray(start, end))
  }
  readUInt8(offset = 0) {
    return this[offset]
  }
  readUInt16BE(offset = 0) {
    return view(this).getUint16(offset)
  }
  readUInt32BE(offset = 0) {
    return view(this).getUint32(offset)
  }
  writeUInt8(value, offset = 0) {
    this[offset] = value
    return offset + 1
  }
  writeUInt16BE(value, offset = 0) {
    view(this).setUint16(offset, value)
    return offset + 2
  }
  writeUInt32BE(value, offset = 0) {
    view(this).setUint32(offset, value)
    return offset + 4
  }
}
