/**
 * When a broker publishes the last will of a client that fell silent: 1.5 keep-alives after its last packet
 * (MQTT-3.1.2-24 / 5.0 3.1.2-22), up to so much sooner and so much later, seconds: measured on two brokers, the 6 s on
 * mosquitto 2.0.
 */
export const KEEP_ALIVES = 1.5
export const WILL_SOONER = 0.5
export const WILL_LATER = 6

export const willSeconds = (keepAliveSeconds: number): number => KEEP_ALIVES * keepAliveSeconds
export const soonestWill = (keepAliveSeconds: number): number => willSeconds(keepAliveSeconds) - WILL_SOONER
export const latestWill = (keepAliveSeconds: number): number => willSeconds(keepAliveSeconds) + WILL_LATER
