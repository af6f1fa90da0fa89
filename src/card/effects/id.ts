const hex = (bytes: Uint8Array) => Array.from(bytes, byte => byte.toString(16).padStart(2, '0')).join('')
// `crypto.randomUUID` is kept to https; random bytes are not.
const page = hex(crypto.getRandomValues(new Uint8Array(9)))
let made = 0

/** Letters, digits and hyphens, at most 29, unlike any other of any page. */
export const freshId = (): string => `${page}-${(made++).toString(36)}`
