// Node and browsers have TextEncoder and TextDecoder; the core is checked without the types of either.
declare class TextDecoder {
  decode(bytes: Uint8Array): string
}
declare class TextEncoder {
  encode(text: string): Uint8Array
}
const decoder = new TextDecoder()
const encoder = new TextEncoder()

/** Bytes of UTF-8 as text; bytes that are no UTF-8 become U+FFFD. Of a longer payload only the first `most` bytes are looked at. */
export const utf8Text = (bytes: Uint8Array, most = bytes.length): string =>
  decoder.decode(bytes.length > most ? bytes.subarray(0, most) : bytes)

export const utf8Bytes = (text: string): Uint8Array => encoder.encode(text)
