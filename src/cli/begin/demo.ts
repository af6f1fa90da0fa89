import { mkdtemp } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { seeded } from '../../budget/lives/draw.ts'
import type { Emitted } from '../../emit/emitted.ts'
import { hub } from '../../emit/hub/hub.ts'
import { parseProfile } from '../../emit/hub/profile.ts'
import { asyncapi } from '../../emit/standards/asyncapi.ts'
import { sessionBegun, sessionName } from '../../keeper/session/client-id.ts'
import type { TallyStore } from '../../keeper/store/store.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { type Broker, startBroker } from '../../link/broker.ts'
import { linksTo } from '../../link/node/links.ts'
import { parseRegister } from '../../register/parse.ts'
import type { Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import { listenLive } from '../broker/listening.ts'
import { inPackage } from '../files/in-package.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import type { Given } from '../program/command.ts'
import { appendTally, writeFolder } from '../store/append-tally.ts'
import { keepFile } from '../tally/keeping.ts'
import { type Page, type PageFile, startPage } from '../tally/page.ts'
import { cardFiles, wallFiles, wallPage } from '../tally/wall-page.ts'
import type { Lang } from '../tally/wishes.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { acts } from './demo-acts.ts'
import { DemoHouse, pause } from './demo-house.ts'
import { PAST_WEEKS, pastOf } from './demo-past.ts'

const HOST = '127.0.0.1'
const PROFILES = ['bellframe', 'teasel'] as const
/** Said on the page too: forecasts that swing would pass for a fault. */
const PACE: Readonly<Record<Lang, string>> = {
  en: 'A demo: a minute here is a week of a house, and what is forecast of its cells moves as fast.',
  de: 'Eine Vorführung: eine Minute ist hier eine Woche im Haus. So schnell ändern sich auch die Vorhersagen zu den Batterien.',
}

export async function run({ options }: Given<typeof commands.demo>, world: World): Promise<Exit> {
  const { port, speed, seed = world.now() % 1_000_000 } = options
  const say = (line: string) => world.stdout.write(`${line}\n`)

  const example = await readText(inPackage('examples/ropewalk.yaml'), world)
  const card = await cardFiles(world)
  const broker = await atPort(port, startBroker({ mqttPort: port && port + 1, websocketPort: port && port + 2 }))
  let house: DemoHouse | undefined
  let page: Page | undefined
  let keeping: Promise<void> | undefined
  let folder = ''
  const ended = new AbortController()
  try {
    const { register, text } = withBroker(example, broker)
    say(`House: ${register.house}, ${register.openings.length} openings`)
    say(`Broker: ${broker.mqttUrl} and ${broker.websocketUrl}`)
    folder = await writeFiles(register, text, world, say)
    const tell = (line: string) => say(`${clock(world.now(), register.timezone)}  ${line}`)
    const { entries, boots, silent } = pastOf(register, seeded(seed + 2), world.now())
    await appendTally({ kind: 'folder', path: join(folder, 'tally') }, entries, world)
    house = new DemoHouse(broker, { register, random: seeded(seed + 1), speed, tell, signal: world.signal, boots })
    const moved = await house.moveIn()
    say(`Contacts: ${moved.rest} have slept since earlier days, ${moved.doors} doors are joined (seed ${seed})`)
    await writeFolder(join(folder, 'tally'), {}, world, store => leaveSession(register, broker.mqttUrl, store))
    keeping = keepDemo(folder, broker.mqttUrl, tell, {
      ...world,
      signal: AbortSignal.any([world.signal, ended.signal]),
    })
    say(
      `Keeper: its tally lies in ${join(folder, 'tally')}, with ${entries.length} entries of ${PAST_WEEKS} made-up weeks`,
    )
    page = await atPort(port, startPage({ port, host: HOST, files: filesOf(register, text, card, broker) }))
    say(`The wall: ${page.url}`)
    say(PACE.en)
    say('Ctrl-C ends it.\n')
    for (const { afterSeconds, act } of acts(register, seeded(seed), silent)) {
      await pause(afterSeconds / speed, world.signal)
      // Acts overlap, as they do in a house; what the broker's absence cuts short is part of the show.
      house.play(act).catch(error => {
        if (!world.signal.aborted) tell(`${'mark' in act ? act.mark : 'the broker'}: ${messageOf(error)}`)
      })
    }
  } catch (error) {
    if (!world.signal.aborted) throw error
  } finally {
    await page?.close()
    ended.abort()
    await keeping
    await (house ?? broker).close()
  }
  say(`\nThe demo has ended.${folder ? ` Its files stay in ${folder}.` : ''}`)
  return EXIT.fine
}

/** The broker knows the keeper from earlier days: else all that was seen shut would be in doubt from the start. */
async function leaveSession(register: Register, broker: string, store: TallyStore<Ledger>): Promise<void> {
  const { clientId } = sessionName(store)
  const feed = linksTo(broker).link({ clientId, clean: false })
  await listenLive(
    feed,
    register.openings.map(({ topic }) => topic),
    () => {},
  )
  await feed.close()
  sessionBegun(store)
  // In the made-up past it listened all the time.
  store.commitBatch({ entries: [], facts: { deaf: '[]' } })
}

/** The keeper of the demo's house, as `serve` runs one; this keeper begins when the contacts have moved in. */
async function keepDemo(folder: string, broker: string, tell: (line: string) => void, world: World): Promise<void> {
  const options = { path: join(folder, 'ropewalk.yaml'), folder: join(folder, 'tally'), links: linksTo(broker) }
  try {
    await keepFile({ ...options, tell: line => tell(`the keeper: ${line}`) }, world)
  } catch (error) {
    if (!world.signal.aborted) tell(`the keeper has ended: ${messageOf(error)}`)
  }
}

const clock = (now: number, timeZone: string): string =>
  new Intl.DateTimeFormat('en-GB', { timeZone, timeStyle: 'medium' }).format(now)

/** Tells what to do where a port cannot be had. */
async function atPort<T>(port: number, starting: Promise<T>): Promise<T> {
  try {
    return await starting
  } catch (error) {
    const { code, port: which = port } = error as NodeJS.ErrnoException & { port?: number }
    const other = port < 60_000 ? port + 10 : 4790
    const way = `Give another with: sashtally demo --port ${other}`
    if (code === 'EADDRINUSE') {
      throw new Stop(
        EXIT.world,
        `port ${which} is taken; perhaps a demo is running already. End it, or ${way.toLowerCase()}`,
      )
    }
    if (code === 'EACCES') throw new Stop(EXIT.world, `port ${which} is not for every user. ${way}`)
    throw error
  }
}

/** The example with the addresses of this broker in place of its own. */
function withBroker(example: string, broker: Broker): { register: Register; text: string } {
  const { mqtt, websocket } = parseRegister(example).register?.broker ?? {}
  const text = example
    .replaceAll(`'${mqtt}'`, `'${broker.mqttUrl}'`)
    .replaceAll(`'${websocket}'`, `'${broker.websocketUrl}'`)
  const { register } = parseRegister(text)
  if (register?.broker.mqtt !== broker.mqttUrl || register.broker.websocket !== broker.websocketUrl) {
    throw new Stop(EXIT.world, 'the example register of this package was changed: its broker line cannot be filled in')
  }
  return { register, text }
}

/** @returns the folder that it wrote to */
async function writeFiles(
  register: Register,
  text: string,
  world: World,
  say: (line: string) => void,
): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'sashtally-demo-'))
  const write = async (name: string, body: string | undefined) => {
    if (body === undefined) throw new Stop(EXIT.world, `${name} could not be made from the example register`)
    await writeWhole(join(folder, name), body, world)
    say(`Written: ${join(folder, name)}`)
  }
  const made = (emitted: Emitted) => emitted.text
  await write('ropewalk.yaml', text)
  await write('contacts.asyncapi.yaml', made(asyncapi(register)))
  for (const name of PROFILES) {
    const { profile } = parseProfile(await readText(inPackage(`examples/${name}.profile.yaml`), world))
    await write(`${name}.hub.yaml`, profile && made(hub(register, { profile, wire: 'tally' })))
  }
  return folder
}

const filesOf = (register: Register, text: string, card: readonly [string, PageFile][], broker: Broker) =>
  new Map<string, PageFile>([
    [
      '/',
      {
        type: 'text/html',
        body: ({ lang }) =>
          wallPage({
            title: register.house,
            register: 'ropewalk.yaml',
            broker: broker.websocketUrl,
            maySay: true,
            lang,
            note: PACE[lang],
          }).body,
      },
    ],
    ...wallFiles(register.house),
    ...card,
    ['/ropewalk.yaml', { type: 'text/yaml', body: text } as const],
  ])
