// SHA-256 (FIPS 180-4) of short texts, for the revisions of headers.
const primes = []
for (let n = 2; primes.length < 64; n++) if (primes.every(prime => n % prime)) primes.push(n)
const fraction = root => ((root - Math.floor(root)) * 2 ** 32) | 0
const K = primes.map(prime => fraction(Math.cbrt(prime)))
const START = primes.slice(0, 8).map(prime => fraction(Math.sqrt(prime)))

const turn = (x, by) => (x >>> by) | (x << (32 - by))

export function sha256(bytes) {
  const padded = new Uint8Array(Math.ceil((bytes.length + 9) / 64) * 64)
  padded.set(bytes)
  padded[bytes.length] = 0x80
  const view = new DataView(padded.buffer)
  view.setBigUint64(padded.length - 8, BigInt(bytes.length) * 8n)
  const sum = [...START]
  const w = new Int32Array(64)
  for (let block = 0; block < padded.length; block += 64) {
    for (let i = 0; i < 64; i++) {
      if (i < 16) w[i] = view.getInt32(block + 4 * i)
      else {
        const [a, b] = [w[i - 15], w[i - 2]]
        const s0 = turn(a, 7) ^ turn(a, 18) ^ (a >>> 3)
        const s1 = turn(b, 17) ^ turn(b, 19) ^ (b >>> 10)
        w[i] = w[i - 16] + s0 + w[i - 7] + s1
      }
    }
    let [a, b, c, d, e, f, g, h] = sum
    for (let i = 0; i < 64; i++) {
      const t1 = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + K[i] + w[i]) | 0
      const t2 = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0
      ;[a, b, c, d, e, f, g, h] = [(t1 + t2) | 0, a, b, c, (d + t1) | 0, e, f, g]
    }
    for (const [i, value] of [a, b, c, d, e, f, g, h].entries()) sum[i] = (sum[i] + value) | 0
  }
  const out = new DataView(new ArrayBuffer(32))
  for (const [i, value] of sum.entries()) out.setInt32(4 * i, value)
  return new Uint8Array(out.buffer)
}

export const bytesToHex = bytes => Array.from(bytes, byte => byte.toString(16).padStart(2, '0')).join('')
export const utf8ToBytes = text => new TextEncoder().encode(text)
