/** Acknowledgements leave in the order of their messages (MQTT-4.6.0-2), each when its message has been kept. */
export class Acknowledgements {
  readonly #send: (packetIds: readonly number[]) => void
  #waiting: { readonly packetId: number; isKept: boolean }[] = []

  constructor(send: (packetIds: readonly number[]) => void) {
    this.#send = send
  }

  /** A message has come. Its acknowledgement waits for `kept`; when that is rejected, it never leaves, nor does a later one. */
  expect(packetId: number, kept: void | Promise<void>): void {
    const one = { packetId, isKept: kept === undefined }
    this.#waiting.push(one)
    if (one.isKept) this.#leave()
    else
      kept?.then(
        () => {
          one.isKept = true
          this.#leave()
        },
        () => {},
      )
  }

  #leave(): void {
    const until = this.#waiting.findIndex(({ isKept }) => !isKept)
    const ready = this.#waiting.splice(0, until < 0 ? this.#waiting.length : until)
    if (ready.length > 0) this.#send(ready.map(({ packetId }) => packetId))
  }
}
