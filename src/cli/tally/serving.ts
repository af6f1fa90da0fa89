/** What `serve` needs for one house and for many. */
import { isLoopbackAddress } from '../../text/loopback.ts'
import { readText } from '../files/read-write.ts'
import type { Given } from '../program/command.ts'
import { EXIT, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'

export type ServeOptions = Given<typeof commands.serve>['options']

/** Certificate and key, PEM text. */
export interface Tls {
  readonly cert: string
  readonly key: string
}

/** @throws Stop exit 2 where one is named without the other, exit 3 when one cannot be read */
export async function tlsOf({ tlsCert: cert, tlsKey: key }: ServeOptions, world: World): Promise<Tls | undefined> {
  if ((cert === undefined) !== (key === undefined)) throw new Stop(EXIT.usage, 'give --tls-cert and --tls-key together')
  if (cert === undefined || key === undefined) return undefined
  return { cert: await readText(cert, world), key: await readText(key, world) }
}

/** The page may be asked for by other machines. */
export const isOpenHost = ({ host }: ServeOptions): boolean => !isLoopbackAddress(host)

export const cautionOf = ({ host }: ServeOptions): string =>
  `caution: ${host} is open to the network. A wall that lists open windows is a burglar's list: keep it inside the house, and accounts on the broker. They protect the walls; the page of many houses asks for none`

/** What listens, or why it cannot, in a sentence. */
export async function atPort<T>(starting: Promise<T>): Promise<T> {
  try {
    return await starting
  } catch (error) {
    const { code, port } = error as NodeJS.ErrnoException & { port?: number }
    if (code === 'EADDRINUSE') throw new Stop(EXIT.world, `port ${port} is taken: end what holds it, or choose another`)
    if (code === 'EACCES') throw new Stop(EXIT.world, `port ${port} is not for every user: choose one above 1023`)
    if (code === 'EADDRNOTAVAIL')
      throw new Stop(EXIT.world, `this machine has no such address: ${(error as Error).message}`)
    if (code?.startsWith('ERR_OSSL') || code?.startsWith('ERR_SSL'))
      throw new Stop(EXIT.input, `the certificate or its key cannot be used: ${(error as Error).message}`)
    throw error
  }
}
