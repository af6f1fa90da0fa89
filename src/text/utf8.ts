// Node and browsers have both; the core knows the types of neither.
declare class TextDecoder {
  decode(bytes: Uint8Array): string
}
declare class TextEncoder {
  encode(text: string): Uint8Array
}
const decoder = new TextDecoder()
const encoder = new TextEncoder()

/** UTF-8 as text; what is none becomes U+FFFD. Of a longer payload only the first `most` bytes are looked at. */
export const utf8Text = (bytes: Uint8Array, most = bytes.length): string =>
  decoder.decode(bytes.length > most ? bytes.subarray(0, most) : bytes)

export const utf8Bytes = (text: string): Uint8Array => encoder.encode(text)
