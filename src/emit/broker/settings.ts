import { type Broker, brokerOf, isLoopback } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { inComment } from './listed-houses.ts'

/** Files of the set, by the names that they have beside one another. */
export const SETTINGS_FILE = 'mosquitto.conf'
export const ACCESS_FILE = 'house.access'
export const PASSWORDS_FILE = 'house.passwords'
/** Certificate and key (PEM) of the listeners that the register names with `mqtts` or `wss`: the person's own. */
export const CERTIFICATE_FILE = 'certificate.pem'
export const KEY_FILE = 'key.pem'

export interface SettingsOptions {
  /** Absolute path of the folder where the set stands on the broker's machine. */
  readonly place: string
  /** Name of the password file there. */
  readonly passwords: string
}

/** What the settings rest on. */
export type SettingsHouse = Pick<Register, 'house' | 'broker'>

interface Listener extends Broker {
  readonly says: string
  readonly protocol?: 'websockets'
}

const USUAL: Broker = { host: '', port: 1883, tls: false, path: '' }

/** What the register's addresses ask the broker to listen on: MQTT always, WebSockets where a wall has an address. */
function listenersOf({ broker: { mqtt, websocket } }: SettingsHouse): readonly Listener[] {
  const plain = (mqtt === undefined ? undefined : brokerOf(mqtt)) ?? USUAL
  const sockets = websocket === undefined ? undefined : brokerOf(websocket)
  return [
    { ...plain, says: 'MQTT: contacts, the keeper, the hub.' },
    ...(sockets
      ? [
          {
            ...sockets,
            protocol: 'websockets' as const,
            says: 'MQTT over WebSockets, for walls: a page in a browser can speak it in no other way.',
          },
        ]
      : []),
  ]
}

/** Whether a listener of the register speaks TLS, and so wants certificate and key beside the settings. */
export const needsCertificate = (register: SettingsHouse): boolean => listenersOf(register).some(({ tls }) => tls)

/**
 * The whole configuration of mosquitto 2.0 for a house with a keeper, each setting with its reason.
 * @see mosquitto.conf(5) for every keyword
 */
export function brokerSettings(register: SettingsHouse, { place, passwords }: SettingsOptions): string {
  const inPlace = (name: string): string => `${place.replace(/\/$/, '')}/${name}`
  const listeners = listenersOf(register).map(({ says, host, port, tls, protocol }) =>
    [
      `# ${says}${isLoopback(host) ? " The register's address is this machine: nobody else comes in." : ''}`,
      `listener ${port}${isLoopback(host) ? ` ${host.replace(/^\[|\]$/g, '')}` : ''}`,
      ...(protocol ? [`protocol ${protocol}`] : []),
      ...(tls ? [`certfile ${inPlace(CERTIFICATE_FILE)}`, `keyfile ${inPlace(KEY_FILE)}`] : []),
    ].join('\n'),
  )
  return `# Generated from the register of ${inComment(register.house)}: sashtally emit broker. Do not edit.
# The whole mosquitto.conf (mosquitto 2.0): no other file may give one of these settings again.

# Accounts and access list hold for every listener.
per_listener_settings false

${listeners.join('\n\n')}

# Small messages leave at once, not with the next ones.
set_tcp_nodelay true

# Nobody comes in without an account, and each account may do what the list says, no more.
allow_anonymous false
password_file ${inPlace(passwords)}
acl_file ${inPlace(ACCESS_FILE)}

# Bytes of the largest message: without a limit one account can fill the memory.
max_packet_size 1048576

# The keeper's session, retained words and waiting words outlive a restart, a crash and a power cut: every change writes
# the whole store, which suits some hundred words a day. A kill within 5 ms of a word may still lose that one word.
persistence true
persistence_location /var/lib/mosquitto/
autosave_on_changes true
autosave_interval 1

# Above this many waiting words the broker drops new ones, though it acknowledged them; only a boot count in the payload
# shows that. The usual 1,000 is a busy week for a keeper that is down.
max_queued_messages 100000

# How long the broker keeps what waits for a keeper that is down.
persistent_client_expiration 30d
`
}
