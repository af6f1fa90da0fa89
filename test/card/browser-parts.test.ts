import { createHash } from 'node:crypto'
import { expect, test } from 'vitest'

interface Bytes extends Uint8Array {
  readUInt16BE(offset: number): number
  write(text: string, offset: number): number
  copy(target: Uint8Array, start: number): number
}
interface Emitter {
  on(name: string, listener: (...args: unknown[]) => void): Emitter
  once(name: string, listener: (...args: unknown[]) => void): Emitter
  off(name: string, listener: (...args: unknown[]) => void): Emitter
  emit(name: string, ...args: unknown[]): boolean
}
const part = async (name: string) =>
  (await import(new URL(`../../.config/browser/${name}`, import.meta.url).pathname)) as never

test('the card’s SHA-256 is that of FIPS 180-4', async () => {
  const { sha256, bytesToHex, utf8ToBytes } = (await part('sha256.mjs')) as {
    sha256(bytes: Uint8Array): Uint8Array
    bytesToHex(bytes: Uint8Array): string
    utf8ToBytes(text: string): Uint8Array
  }
  // The example of FIPS 180-2, appendix B.1.
  expect(bytesToHex(sha256(utf8ToBytes('abc')))).toBe(
    'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad',
  )
  for (const length of [0, 1, 55, 56, 63, 64, 65, 119, 120, 1000]) {
    const text = 'ü'.repeat(length).slice(0, length)
    expect(bytesToHex(sha256(utf8ToBytes(text)))).toBe(createHash('sha256').update(text).digest('hex'))
  }
})

test('the card’s buffer reads and writes as Node’s does', async () => {
  const { Buffer: Small } = (await part('buffer.mjs')) as {
    Buffer: {
      from(value: unknown, offset?: number, length?: number): Bytes
      alloc(size: number): Bytes
      byteLength(text: string): number
      concat(list: Uint8Array[]): Bytes
      isBuffer(value: unknown): boolean
    }
  }
  for (const text of ['', 'opened', 'Öl und 漢字 🪟']) {
    expect([...Small.from(text)]).toEqual([...Buffer.from(text)])
    expect(Small.byteLength(text)).toBe(Buffer.byteLength(text))
    expect(Small.from(text).toString()).toBe(text)
    const [small, large] = [Small.alloc(40), Buffer.alloc(40)]
    expect(small.write(text, 3)).toBe(large.write(text, 3))
    expect([...small]).toEqual([...large])
  }
  const bytes = [1, 2, 253, 4, 5, 6]
  expect(Small.from(bytes).readUInt16BE(2)).toBe(Buffer.from(bytes).readUInt16BE(2))
  expect([...Small.concat([Small.from([1]), Small.from([2, 3])])]).toEqual([1, 2, 3])
  const view = new Uint8Array(bytes).subarray(2, 4)
  expect([...Small.from(view.buffer, view.byteOffset, view.byteLength)]).toEqual([253, 4])
  expect(Small.isBuffer(Small.from(bytes).slice(1, 2))).toBe(true)
})

test('the card’s emitter calls once only once, bears removal while it speaks, and throws an error nobody hears', async () => {
  const { EventEmitter } = (await part('events.mjs')) as { EventEmitter: new () => Emitter }
  const emitter = new EventEmitter()
  const heard: string[] = []
  const second = () => heard.push('second')
  emitter.once('word', () => heard.push('once'))
  emitter.on('word', () => emitter.off('word', second))
  emitter.on('word', second)
  expect(emitter.emit('word')).toBe(true)
  expect(emitter.emit('word')).toBe(true)
  expect(heard).toEqual(['once', 'second'])
  expect(emitter.emit('nothing')).toBe(false)
  expect(() => emitter.emit('error', new Error('alone'))).toThrow('alone')
})

test('bytes that arrive in pieces are read as one', async () => {
  const { default: bytes } = (await part('bl.mjs')) as {
    default(): {
      length: number
      append(more: Uint8Array): void
      consume(count: number): void
      readUInt8(at: number): number
      slice(from: number, to: number): Uint8Array
      toString(encoding: string, from: number, to: number): string
    }
  }
  const list = bytes()
  for (const chunk of [[1, 2], [], [3], [195, 182, 9]]) list.append(new Uint8Array(chunk))
  expect(list.length).toBe(6)
  expect(list.readUInt8(2)).toBe(3)
  expect([...list.slice(1, 4)]).toEqual([2, 3, 195])
  list.consume(3)
  expect(list.toString('utf8', 0, 2)).toBe('ö')
  expect(list.length).toBe(3)
})

test('a sink takes one chunk at a time, in order', async () => {
  const { Writable } = (await part('streams.mjs')) as {
    Writable: new () => {
      write(chunk: unknown): void
      _write?: (chunk: unknown, encoding: string, done: () => void) => void
    }
  }
  const sink = new Writable()
  const taken: unknown[] = []
  const waiting: (() => void)[] = []
  sink._write = (chunk, _encoding, done) => {
    taken.push(chunk)
    waiting.push(done)
  }
  for (const chunk of [1, 2, 3]) sink.write(chunk)
  expect(taken).toEqual([1])
  waiting.shift()?.()
  expect(taken).toEqual([1, 2])
  waiting.shift()?.()
  waiting.shift()?.()
  expect(taken).toEqual([1, 2, 3])
})
