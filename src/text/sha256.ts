import { utf8Bytes } from './utf8.ts'

/** The first digits of the fractional part of a root, as 32 bits: FIPS 180-4, sections 4.2.2 and 5.3.3. */
const fraction = (root: number): number => ((root - Math.floor(root)) * 2 ** 32) | 0

const primes: number[] = []
for (let n = 2; primes.length < 64; n++) if (primes.every(prime => n % prime)) primes.push(n)
const K = primes.map(prime => fraction(Math.cbrt(prime)))
const START = primes.slice(0, 8).map(prime => fraction(Math.sqrt(prime)))

const turn = (x: number, by: number): number => (x >>> by) | (x << (32 - by))

/**
 * SHA-256 of a text in UTF-8, as 64 hex digits: a name for what a header holds, in every world alike. Browsers offer a
 * digest of their own to pages on https only.
 * @see FIPS 180-4, section 6.2
 */
export function sha256Hex(text: string): string {
  const bytes = utf8Bytes(text)
  const padded = new Uint8Array(Math.ceil((bytes.length + 9) / 64) * 64)
  padded.set(bytes)
  padded[bytes.length] = 0x80
  const view = new DataView(padded.buffer)
  view.setBigUint64(padded.length - 8, BigInt(bytes.length) * 8n)
  const hash = Int32Array.from(START)
  for (let block = 0; block < padded.length; block += 64) compress(hash, view, block)
  return Array.from(hash, word => (word >>> 0).toString(16).padStart(8, '0')).join('')
}

/** Adds one block of 64 bytes to the hash. */
function compress(hash: Int32Array, view: DataView, block: number): void {
  const w = new Int32Array(64)
  for (let i = 0; i < 16; i++) w[i] = view.getInt32(block + 4 * i)
  for (let i = 16; i < 64; i++) {
    const [x, y] = [w[i - 15]!, w[i - 2]!]
    const s0 = turn(x, 7) ^ turn(x, 18) ^ (x >>> 3)
    const s1 = turn(y, 17) ^ turn(y, 19) ^ (y >>> 10)
    w[i] = w[i - 16]! + s0 + w[i - 7]! + s1
  }
  let [a, b, c, d, e, f, g, h] = hash as unknown as [number, number, number, number, number, number, number, number]
  for (let i = 0; i < 64; i++) {
    const choice = (e & f) ^ (~e & g)
    const majority = (a & b) ^ (a & c) ^ (b & c)
    const t1 = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + choice + K[i]! + w[i]!) | 0
    const t2 = (turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + majority
    // One by one: a list of eight for each of 64 turns costs more than the sums.
    h = g
    g = f
    f = e
    e = (d + t1) | 0
    d = c
    c = b
    b = a
    a = (t1 + t2) | 0
  }
  for (const [i, value] of [a, b, c, d, e, f, g, h].entries()) hash[i] = hash[i]! + value
}
