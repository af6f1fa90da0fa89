/** A way to a broker for bytes in both directions, whatever carries them. */
export interface Socket {
  /** Hands bytes over; they leave in order. What is handed over after the end is lost. */
  send(bytes: Uint8Array): void
  /** Ends when what was sent is out. */
  end(): void
  /** Breaks off at once. */
  destroy(): void
}

export interface SocketEvents {
  /** Bytes may be sent. */
  open(): void
  bytes(bytes: Uint8Array): void
  /** It is over, by whichever side; said once. */
  closed(error?: Error): void
}

/**
 * Begins to connect. Events come later, never before this returns.
 * May throw: the message is shown to the person, and no further attempt is made.
 * @param timeoutMilliseconds - longest time that opening may take
 */
export type Dial = (url: string, events: SocketEvents, timeoutMilliseconds: number) => Socket
