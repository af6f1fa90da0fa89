import type { HousesOptions } from '../../keeper/houses/keep-houses.ts'
import type { GoneHouse, KeptHouse } from '../../keeper/houses/kept-house.ts'
import type { TellOfHouses } from '../../keeper/log-codes.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { inPackage } from '../files/in-package.ts'
import { readText } from '../files/read-write.ts'
import { housesHealthPages } from '../tally/health-pages.ts'
import { backupsOf } from '../tally/keep.ts'
import { keepFolder, mustBeForMany } from '../tally/keeping-houses.ts'
import { withLog } from '../tally/log.ts'
import { type PageFile, startPage } from '../tally/page.ts'
import { atPort, cautionOf, isOpenHost, type ServeOptions, type Tls, tlsOf } from '../tally/serving.ts'
import { cardFiles, manifest, sharedFiles, wallBroker, wallPage } from '../tally/wall-page.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { housesPage } from './page.ts'
import { Plates } from './plates.ts'
import { HOUSES_STYLE, WAY_BACK_STYLE } from './style.ts'
import { HOUSES_WORDS } from './words.ts'

/**
 * Keeps the houses of a folder and serves a page of all, and the wall of each below its name.
 * @returns when the world's signal stops it
 * @throws Stop exit 2 for options of one house, exit 3 when folder or port cannot be had
 */
export async function serveHouses(registers: string, options: ServeOptions, world: World): Promise<void> {
  mustBeForMany({ '--begin-anew': options.beginAnew })
  if (options.broker || options.accounts !== undefined)
    throw new Stop(
      EXIT.usage,
      '--broker is for trying one house out: many houses need a broker that keeps its sessions',
    )
  const tls = await tlsOf(options, world)
  await withLog(options.log, world, tell => serve(registers, options, tls, tell, world))
}

async function serve(
  registers: string,
  options: ServeOptions,
  tls: Tls | undefined,
  tell: TellOfHouses,
  world: World,
): Promise<void> {
  const { port, host, name: names, data: folder, homie, metricsFor, maySay } = options
  const given = await credentialsOf(world)
  const isOpen = isOpenHost(options)
  if (isOpen) tell(cautionOf(options), 'open')
  const account = isOpen && given.username === undefined ? undefined : given
  let houses: () => readonly KeptHouse[] = () => []
  let gone: () => readonly GoneHouse[] = () => []
  const all = (): readonly KeptHouse[] => houses()
  const page = await atPort(
    startPage({
      port,
      host,
      names,
      answers: housesHealthPages(all, metricsFor),
      files: new Map([
        ...(await cardFiles(world)),
        ...sharedFiles(),
        ...(await pageFiles(new Plates(all, world.now, tls !== undefined, () => gone()), world)),
      ]),
      fileAt: path => wallFile(path, all(), tls, maySay),
      ...(tls ? { tls } : {}),
    }),
  )
  tell(`the houses: ${page.url}`, 'page')
  try {
    const opened: HousesOptions['opened'] = (...now) => {
      ;[houses, gone] = now
    }
    await keepFolder({ registers, folder, account, homie, ...backupsOf(options, world), tell, opened }, world)
  } finally {
    await page.close()
  }
}

async function pageFiles(plates: Plates, world: World): Promise<readonly [string, PageFile][]> {
  const script = (name: string): Promise<string> => readText(inPackage(`dist/cli/houses/${name}.js`), world)
  return [
    ['/', { type: 'text/html', body: async ({ lang }) => housesPage(await plates.note(lang), lang) }],
    [
      '/houses.json',
      { type: 'application/json', body: async ({ lang, after }) => JSON.stringify(await plates.note(lang, after)) },
    ],
    ['/houses.css', { type: 'text/css', body: HOUSES_STYLE }],
    ['/houses.js', { type: 'text/javascript', body: await script('follow') }],
    ['/way-back.css', { type: 'text/css', body: WAY_BACK_STYLE }],
    ['/way-back.js', { type: 'text/javascript', body: await script('way-back') }],
    ['/manifest.webmanifest', manifest(lang => HOUSES_WORDS[lang].title)],
  ]
}

const WALL_PATH = /^\/([^/]+)\/(manifest\.webmanifest)?$/

/** A segment of a path as a name; undefined: it is none. */
function decoded(segment = ''): string | undefined {
  try {
    return decodeURIComponent(segment)
  } catch {
    return undefined
  }
}

/** A file of a house's wall: the name in the path is looked for among the houses that there are, nowhere else. */
function wallFile(
  path: string,
  houses: readonly KeptHouse[],
  tls: Tls | undefined,
  maySay: boolean,
): PageFile | undefined {
  const [, segment, isManifest] = WALL_PATH.exec(path) ?? []
  const { register } = houses.find(({ name }) => name === decoded(segment)) ?? {}
  if (!register) return undefined
  const { house: title, tally } = register
  if (isManifest) return manifest(() => title, '../')
  const broker = wallBroker(register, tls !== undefined)
  if ('why' in broker) return undefined
  return {
    type: 'text/html',
    body: ({ lang, by }) => {
      const back = houses.length > 1 ? HOUSES_WORDS[lang].title : undefined
      return wallPage({ title, tally, maySay, by, lang, broker: broker.url, shared: '../', houses: back }).body
    },
  }
}
