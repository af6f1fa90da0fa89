import { deflateSync } from 'node:zlib'

export const PAPER = '#f7f4ea'
const INK = '#2b3340'
/** The icon is drawn on a square of so many units. */
const SIDE = 32

type Rectangle = readonly [colour: string, x: number, y: number, width: number, height: number]

/** A sash with its lower half raised, on a sill: each rectangle over the ones before. */
const RECTANGLES: readonly Rectangle[] = [
  [PAPER, 0, 0, SIDE, SIDE],
  [INK, 6, 2, 20, 28],
  [PAPER, 8, 4, 16, 24],
  [INK, 8, 15, 16, 2],
  [INK, 15, 4, 2, 11],
  [INK, 4, 28, 24, 2],
]

export const iconSvg = (): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${SIDE} ${SIDE}" shape-rendering="crispEdges">${RECTANGLES.map(
    ([colour, x, y, width, height]) => `<path fill="${colour}" d="M${x} ${y}h${width}v${height}h-${width}z"/>`,
  ).join('')}</svg>\n`

/**
 * The icon as PNG, for home screens that take no SVG, those of iPads among them.
 * @param scale - pixels a unit, a whole number above 0: 6 gives 192 by 192
 * @see PNG (Third Edition), W3C 2025: sections 5.3 "Chunk layout", 11.2 "Critical chunks"; colour type 3 is a palette
 */
export function iconPng(scale: number): Uint8Array {
  const side = SIDE * scale
  const palette = [PAPER, INK]
  // Before each row stands its filter: 0, none.
  const rows = Buffer.alloc((side + 1) * side)
  for (const [colour, x, y, width, height] of RECTANGLES)
    for (let row = y * scale; row < (y + height) * scale; row++) {
      const from = row * (side + 1) + 1 + x * scale
      rows.fill(palette.indexOf(colour), from, from + width * scale)
    }
  const header = Buffer.alloc(13)
  header.writeUInt32BE(side, 0)
  header.writeUInt32BE(side, 4)
  header.set([8, 3], 8)
  return Buffer.concat([
    Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'),
    chunk('IHDR', header),
    chunk('PLTE', Buffer.from(palette.map(colour => colour.slice(1)).join(''), 'hex')),
    chunk('IDAT', deflateSync(rows, { level: 9 })),
    chunk('IEND', Buffer.alloc(0)),
  ])
}

function chunk(type: string, data: Buffer): Buffer {
  const whole = Buffer.alloc(data.length + 12)
  whole.writeUInt32BE(data.length, 0)
  whole.write(type, 4, 'latin1')
  data.copy(whole, 8)
  whole.writeUInt32BE(crc32(whole.subarray(4, -4)), data.length + 8)
  return whole
}

/** @see ISO 3309, as PNG's annex D has it */
function crc32(bytes: Buffer): number {
  let sum = 0xffffffff
  for (const byte of bytes) {
    sum ^= byte
    for (let bit = 0; bit < 8; bit++) sum = (sum >>> 1) ^ (sum & 1 ? 0xedb88320 : 0)
  }
  return ~sum >>> 0
}
