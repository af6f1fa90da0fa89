import { randomBytes, timingSafeEqual } from 'node:crypto'
import type { RunningKeeper } from '../../keeper/begin/keep-options.ts'
import type { Tell } from '../../keeper/log-codes.ts'
import { type Broker, startBroker } from '../../link/broker.ts'
import { type Credentials, linksTo } from '../../link/node/links.ts'
import { addressesOf } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { isLoopbackAddress } from '../../text/loopback.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf } from '../broker/link.ts'
import { readText } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { warnIfOpen } from '../files/secret-file.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import { cellsPage } from './cells-page.ts'
import type * as commands from './commands.ts'
import { healthPages } from './health-pages.ts'
import { backupsOf } from './keep.ts'
import { keepFile } from './keeping.ts'
import { withLog } from './log.ts'
import { type PageFile, startPage } from './page.ts'
import { isPassword, mayDo, type PasswordHashes, parsePasswordFile } from './password-file.ts'
import { cardFiles, wallFiles, wallPage } from './wall-page.ts'

interface Wanted {
  readonly folder: string
  readonly port: number
  readonly host: string
  readonly isOpen: boolean
  readonly names: readonly string[]
  readonly accounts: PasswordHashes | undefined
  readonly tls: { readonly cert: string; readonly key: string } | undefined
}

type Asked = Given<typeof commands.serve>

export async function run(asked: Asked, world: World): Promise<Exit> {
  const register = await readRegister(asked.args.file, world)
  const wanted = await wantedOf(asked.options, world)
  await withLog(asked.options.log, world, tell => serve(asked, register, wanted, tell, world))
  return EXIT.fine
}

async function serve(
  { args: { file }, options }: Asked,
  register: Register,
  wanted: Wanted,
  tell: Tell,
  world: World,
): Promise<void> {
  if (wanted.isOpen) {
    tell(
      `caution: ${wanted.host} is open to the network. A wall that lists open windows is a burglar's list: keep it inside the house, and accounts on the broker`,
      'open',
    )
  }
  const inside: Credentials = { username: 'keeper', password: randomBytes(24).toString('base64url') }
  let broker: Broker | undefined
  if (options.broker) {
    broker = await atPort(startOwnBroker(register, wanted, inside))
    tell(
      `broker: ${broker.mqttUrl} and ${broker.websocketUrl}; it forgets everything when it ends, so take one that keeps its sessions for a house`,
      'broker',
    )
  }
  try {
    const account = broker ? (wanted.accounts ? inside : {}) : await credentialsOf(world)
    if (wanted.isOpen && !broker && account.username === undefined) {
      throw new Stop(
        EXIT.usage,
        '--host opens the house to the network: give the broker accounts (sashtally emit access), and name yours in SASHTALLY_USER',
      )
    }
    let kept: RunningKeeper | undefined
    const cells = cellsPage(() => kept, world.now)
    const page = await atPort(
      startPage({
        answers: healthPages(() => kept?.health(), options.metricsFor),
        port: wanted.port,
        host: wanted.host,
        names: wanted.names,
        files: new Map([...(await filesOf(register, broker, wanted, options.maySay, world)), ['/cells.ics', cells]]),
        ...(wanted.tls ? { tls: wanted.tls } : {}),
      }),
    )
    tell(`the wall: ${page.url}`, 'page')
    try {
      // The broker in this process speaks TLS with a certificate for another name.
      const trust = wanted.tls && broker ? wanted.tls.cert : undefined
      const links = linksTo(broker ? loopbackOf(broker) : brokerUrlOf(register), account, trust)
      await keepFile(
        {
          path: file,
          folder: wanted.folder,
          links,
          ...backupsOf(options, world),
          homie: options.homie,
          beginAnew: options.beginAnew,
          tell,
          opened: tally => {
            kept = tally
          },
        },
        world,
      )
    } finally {
      await page.close()
    }
  } finally {
    await broker?.close()
  }
}

async function wantedOf(options: Asked['options'], world: World): Promise<Wanted> {
  const { data: folder, port, host, name: names, accounts, tlsCert: cert, tlsKey: key } = options
  const isOpen = !isLoopbackAddress(host)
  if (accounts !== undefined && !options.broker)
    throw new Stop(EXIT.usage, '--accounts are those of the broker: give --broker too')
  if (isOpen && options.broker && accounts === undefined) {
    throw new Stop(
      EXIT.usage,
      '--host opens the broker to the network: give its accounts with --accounts FILE (sashtally emit access makes them)',
    )
  }
  if ((cert === undefined) !== (key === undefined)) throw new Stop(EXIT.usage, 'give --tls-cert and --tls-key together')
  return {
    folder,
    port,
    host,
    isOpen,
    names,
    accounts: accounts === undefined ? undefined : await accountsOf(accounts, world),
    tls:
      cert === undefined || key === undefined
        ? undefined
        : { cert: await readText(cert, world), key: await readText(key, world) },
  }
}

async function accountsOf(file: string, world: World): Promise<PasswordHashes> {
  const text = await readText(file, world)
  await warnIfOpen(file, world)
  try {
    return parsePasswordFile(text)
  } catch (error) {
    throw new Stop(
      EXIT.input,
      `${file}: ${(error as Error).message}; sashtally emit access --accounts makes such a file`,
    )
  }
}

function startOwnBroker(
  register: Register,
  { host, names, accounts, tls }: Wanted,
  inside: Credentials,
): Promise<Broker> {
  const port = (url: string | undefined, usual: number): number =>
    Number(url === undefined ? usual : new URL(url).port || usual)
  const isInside = (password: string): boolean => {
    const [given, own] = [Buffer.from(password), Buffer.from(inside.password ?? '')]
    return given.length === own.length && timingSafeEqual(given, own)
  }
  return startBroker({
    host,
    names,
    mqttPort: port(register.broker.mqtt, tls ? 8883 : 1883),
    websocketPort: port(register.broker.websocket, 9001),
    ...(tls ? { tls } : {}),
    ...(accounts
      ? {
          authenticate: (user = '', password = '') => {
            if (user === inside.username && isInside(password)) return true
            const hash = accounts.get(user)
            return hash !== undefined && isPassword(hash, password)
          },
          authorize: mayDo(register),
        }
      : {}),
  })
}

const loopbackOf = ({ mqttUrl }: Broker): string => mqttUrl.replace('0.0.0.0', '127.0.0.1').replace('[::]', '[::1]')

/** The card asks the broker for everything: the register's file, with topics and prices, never leaves this process. */
async function filesOf(
  register: Register,
  broker: Broker | undefined,
  { tls }: Wanted,
  maySay: boolean,
  world: World,
): Promise<ReadonlyMap<string, PageFile>> {
  const { house: title, tally } = register
  const outside = addressesOf(register.broker, 'websocket').join(' ')
  if (!broker && outside === '') {
    throw new Stop(
      EXIT.input,
      "the register names no WebSocket address, and a page can use no other: add broker: { websocket: 'ws://…' }",
    )
  }
  if (!broker && tls && outside.startsWith('ws:')) {
    throw new Stop(EXIT.input, `a page on https cannot open ${outside}: give the broker TLS too and write wss://`)
  }
  const wall: PageFile = {
    type: 'text/html',
    body: ({ hostname, lang, by }) => {
      const url = broker ? `${tls ? 'wss' : 'ws'}://${hostname}:${broker.websocketPort}` : outside
      return wallPage({ title, tally, maySay, by, lang, broker: url }).body
    },
  }
  return new Map<string, PageFile>([['/', wall], ...wallFiles(title), ...(await cardFiles(world))])
}

async function atPort<T>(starting: Promise<T>): Promise<T> {
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
