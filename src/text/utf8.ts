// Node and browsers have it; the core knows the types of neither.
declare class TextDecoder {
  decode(bytes: Uint8Array): string
}
const decoder = new TextDecoder()

/** UTF-8 as text; what is none becomes U+FFFD. Of a longer payload only the first `most` bytes are looked at. */
export const utf8Text = (bytes: Uint8Array, most = bytes.length): string =>
  decoder.decode(bytes.length > most ? bytes.subarray(0, most) : bytes)
