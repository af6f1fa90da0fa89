import type { IClientOptions } from 'mqtt'
import type { ConnectionOptions } from '../connection.ts'

/** One connection's options for the package's client: it never connects again and keeps nothing by itself. */
export function clientOptionsOf(options: ConnectionOptions): IClientOptions {
  const { version, clientId, clean, username, password, will, receiveMaximum, sessionExpirySeconds } = options
  return {
    clientId,
    clean,
    protocolVersion: version,
    keepalive: options.keepAliveSeconds,
    connectTimeout: options.timeoutMilliseconds,
    reconnectPeriod: 0,
    resubscribe: false,
    // Its other timers run in a worker thread.
    timerVariant: 'native',
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(will ? { will: { ...will, payload: Buffer.from(will.payload) } } : {}),
    ...(version === 5
      ? {
          properties: {
            ...(receiveMaximum === undefined ? {} : { receiveMaximum }),
            ...(sessionExpirySeconds === undefined ? {} : { sessionExpiryInterval: sessionExpirySeconds }),
          },
        }
      : {}),
  }
}
