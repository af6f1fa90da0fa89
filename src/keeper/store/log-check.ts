/**
 * Looks whether SQLite would read the whole write-ahead log. Behind a frame whose sum is wrong it reads nothing and says
 * nothing: the next writer rolls what stands there away, whole transactions that were on the disk.
 * @see the write-ahead log format, sqlite.org/fileformat2.html sections 4.1 (layout) and 4.2 (checksums)
 */
import { existsSync, readFileSync } from 'node:fs'

const HEADER_BYTES = 32
const FRAME_HEADER_BYTES = 24
const MAGIC_LITTLE_ENDIAN = 0x377f0682
const MAGIC_BIG_ENDIAN = 0x377f0683

type Sum = readonly [number, number]

/** The log's own checksum, carried on over `bytes`, whose length is a multiple of eight. */
function carryOn([first, second]: Sum, bytes: Buffer, isBigEndian: boolean): Sum {
  let [a, b] = [first, second]
  for (let at = 0; at + 8 <= bytes.length; at += 8) {
    a = (a + b + (isBigEndian ? bytes.readUInt32BE(at) : bytes.readUInt32LE(at))) >>> 0
    b = (b + a + (isBigEndian ? bytes.readUInt32BE(at + 4) : bytes.readUInt32LE(at + 4))) >>> 0
  }
  return [a, b]
}

const isSum = (bytes: Buffer, at: number, [a, b]: Sum): boolean =>
  bytes.readUInt32BE(at) === a && bytes.readUInt32BE(at + 4) === b

/**
 * What is wrong with the log beside a database file: a sentence, or undefined where all of its transactions can be read.
 * A last transaction that a power cut left half written is nothing wrong: it was never answered for.
 * @param path - of the database file
 */
export function logDamage(path: string): string | undefined {
  const file = `${path}-wal`
  if (!existsSync(file)) return undefined
  const log = readFileSync(file)
  if (log.length < HEADER_BYTES) return undefined
  const magic = log.readUInt32BE(0)
  const isBigEndian = magic === MAGIC_BIG_ENDIAN
  const start = carryOn([0, 0], log.subarray(0, 24), isBigEndian)
  if ((!isBigEndian && magic !== MAGIC_LITTLE_ENDIAN) || !isSum(log, 24, start)) {
    return log.some(byte => byte !== 0) ? `${file}: the head of the log is damaged` : undefined
  }
  const page = log.readUInt32BE(8)
  const salts = log.subarray(16, 24)
  let sum = start
  let bad: number | undefined
  let isOver = false
  for (
    let at = HEADER_BYTES, n = 1;
    at + FRAME_HEADER_BYTES + page <= log.length;
    at += FRAME_HEADER_BYTES + page, n++
  ) {
    const isOfThisLog = log.compare(salts, 0, 8, at + 8, at + 16) === 0
    if (bad === undefined) {
      sum = carryOn(sum, log.subarray(at, at + 8), isBigEndian)
      sum = carryOn(sum, log.subarray(at + FRAME_HEADER_BYTES, at + FRAME_HEADER_BYTES + page), isBigEndian)
      if (isOfThisLog && isSum(log, at + 16, sum)) continue
      bad = n
    } else if (isOfThisLog && isOver) {
      return `${file}: frame ${bad} of the log is damaged, and whole transactions stand behind it`
    }
    // The frame that ends a transaction names the size of the file after it.
    isOver ||= isOfThisLog && log.readUInt32BE(at + 4) !== 0
  }
  return undefined
}
