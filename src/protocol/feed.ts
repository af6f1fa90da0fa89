/** The link as the rest sees it: messages come in, messages go out. The one implementation over MQTT is in `link/`. */

/** A message as the link hands it over. */
export interface Heard {
  readonly topic: string
  readonly payload: Uint8Array
  readonly retain: boolean
  readonly dup: boolean
  readonly qos: 0 | 1 | 2
  readonly packetId?: number
  /** MQTT 5: seconds of expiry left, where the publisher set one. */
  readonly expirySeconds?: number
}

/** Health of the link; times are milliseconds since the epoch. */
export type LinkState =
  | { readonly state: 'connecting'; readonly since: number }
  | { readonly state: 'live'; readonly since: number; readonly sessionPresent: boolean }
  | {
      readonly state: 'down'
      readonly since: number
      readonly why?: string
      /** Another client came with this client id and has this one's session. */
      readonly taken?: true
      /** In the last attempts nothing listened at any address of the broker: nobody else could speak to it either. */
      readonly nobodyListens?: true
    }
  | {
      readonly state: 'refused'
      readonly since: number
      readonly why: string
      /** The broker does not take this user name and password: another account may come in. */
      readonly account?: true
      /** The link itself is up, but the broker does not let this account read these topic filters. */
      readonly filters?: readonly string[]
    }

/** The broker did not take a message. */
export class NotTaken extends Error {
  /** It does not let this account publish there. */
  readonly isForbidden: boolean

  constructor(message: string, isForbidden: boolean) {
    super(message)
    this.isForbidden = isForbidden
  }
}

/** Port to a broker. */
export interface Feed {
  /**
   * Connects and keeps the link up until `close`.
   * `heard` may return a promise: the message is acknowledged to the broker only when it has settled.
   */
  open(listener: { heard(message: Heard): void | Promise<void>; link(state: LinkState): void }): void
  /** Replaces the set of topic filters. */
  listen(filters: readonly string[]): void
  /** Resolves when the broker has acknowledged (QoS 1) or the packet is out (QoS 0); rejects when it cannot be sent, with `NotTaken` when the broker says why. */
  publish(
    topic: string,
    payload: string | Uint8Array,
    options?: { qos?: 0 | 1; retain?: boolean; expirySeconds?: number },
  ): Promise<void>
  close(): Promise<void>
}
