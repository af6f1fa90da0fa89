import { randomBytes, timingSafeEqual } from 'node:crypto'
import type { RunningKeeper } from '../../keeper/begin/keep-options.ts'
import type { Tell } from '../../keeper/log-codes.ts'
import { type Broker, startBroker } from '../../link/broker.ts'
import { type Credentials, linksTo } from '../../link/node/links.ts'
import type { Register } from '../../register/types.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf } from '../broker/link.ts'
import { fileOrHouses } from '../files/file-or-houses.ts'
import { readText } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { warnIfOpen } from '../files/secret-file.ts'
import { serveHouses } from '../houses/serve-houses.ts'
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
import { atPort, cautionOf, isOpenHost, type ServeOptions, type Tls, tlsOf } from './serving.ts'
import { cardFiles, wallBroker, wallFiles, wallPage } from './wall-page.ts'

interface Wanted {
  readonly isOpen: boolean
  readonly accounts: PasswordHashes | undefined
  readonly tls: Tls | undefined
}

type Asked = Given<typeof commands.serve>

export async function run(asked: Asked, world: World): Promise<Exit> {
  const { args, options } = asked
  const { file, registers } = fileOrHouses('serve', args.file, options.houses)
  if (file === undefined) {
    await serveHouses(registers, options, world)
    return EXIT.fine
  }
  const register = await readRegister(file, world)
  const wanted = await wantedOf(options, world)
  await withLog(options.log, world, tell => serve({ file, options }, register, wanted, tell, world))
  return EXIT.fine
}

async function serve(
  { file, options }: { readonly file: string; readonly options: ServeOptions },
  register: Register,
  wanted: Wanted,
  tell: Tell,
  world: World,
): Promise<void> {
  const { port, host, name: names } = options
  if (wanted.isOpen) tell(cautionOf(options), 'open')
  const inside: Credentials = { username: 'keeper', password: randomBytes(24).toString('base64url') }
  let broker: Broker | undefined
  if (options.broker) {
    broker = await atPort(startOwnBroker(register, options, wanted, inside))
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
        port,
        host,
        names,
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
          folder: options.data,
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

async function wantedOf(options: ServeOptions, world: World): Promise<Wanted> {
  const { accounts } = options
  const isOpen = isOpenHost(options)
  if (accounts !== undefined && !options.broker)
    throw new Stop(EXIT.usage, '--accounts are those of the broker: give --broker too')
  if (isOpen && options.broker && accounts === undefined) {
    throw new Stop(
      EXIT.usage,
      '--host opens the broker to the network: give its accounts with --accounts FILE (sashtally emit access makes them)',
    )
  }
  const tls = await tlsOf(options, world)
  return { isOpen, accounts: accounts === undefined ? undefined : await accountsOf(accounts, world), tls }
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
  { host, name: names }: ServeOptions,
  { accounts, tls }: Wanted,
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
  const outside = wallBroker(register, tls !== undefined)
  if (!broker && 'why' in outside) throw new Stop(EXIT.input, outside.why)
  const address = 'url' in outside ? outside.url : ''
  const wall: PageFile = {
    type: 'text/html',
    body: ({ hostname, lang, by }) => {
      const url = broker ? `${tls ? 'wss' : 'ws'}://${hostname}:${broker.websocketPort}` : address
      return wallPage({ title, tally, maySay, by, lang, broker: url }).body
    },
  }
  return new Map<string, PageFile>([['/', wall], ...wallFiles(title), ...(await cardFiles(world))])
}
