import type { IClientOptions, MqttClient } from 'mqtt'
import type { AckGate } from './ack-gate.ts'

/** TLS material for `mqtts:` and `wss:` in Node; a browser uses its own. PEM text. */
export interface TlsOptions {
  readonly ca?: string
  readonly cert?: string
  readonly key?: string
  /** Name in the broker's certificate, where it is not the host of the address. */
  readonly servername?: string
  /** `mqtts:` only: replaces the check of the certificate's name, for a broker that is trusted by its certificate alone. */
  readonly checkServerIdentity?: () => undefined
}

/**
 * Makes a client that has begun to connect, all of whose outgoing bytes go through `gate`.
 * May throw: the message is shown to the person, and no further attempt is made.
 */
export type Dial = (url: string, options: IClientOptions, gate: AckGate) => MqttClient
