import { sha256Hex } from './sha256.ts'

/**
 * The UUID of a name: the same name has the same one for good, and no other name has it.
 * @see RFC 9562, section 5.8: version 8, its bits a SHA-256 of the name
 */
export function uuidOf(name: string): string {
  const hex = sha256Hex(name)
  const variant = ((Number.parseInt(hex[16]!, 16) & 0x3) | 0x8).toString(16)
  const [a, b, c, d, e] = [hex.slice(0, 8), hex.slice(8, 12), hex.slice(13, 16), hex.slice(17, 20), hex.slice(20, 32)]
  return `${a}-${b}-8${c}-${variant}${d}-${e}`
}
