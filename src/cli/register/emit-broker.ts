import { existsSync } from 'node:fs'
import { basename, join, resolve } from 'node:path'
import { accessListOf } from '../../emit/broker/access.ts'
import {
  ACCESS_FILE,
  brokerSettings,
  CERTIFICATE_FILE,
  KEY_FILE,
  needsCertificate,
  PASSWORDS_FILE,
  SETTINGS_FILE,
} from '../../emit/broker/settings.ts'
import { addressesOf } from '../../register/topics.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import { accessSet, mustBeOwn } from './access-houses.ts'
import { makeAccounts, mustGoTogether } from './broker-accounts.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export async function run({ args: { file }, options }: Given<typeof commands.broker>, world: World): Promise<Exit> {
  const { out, place: given, check, accounts: passwords, renew } = options
  mustGoTogether(options)
  const list = join(out, ACCESS_FILE)
  const set = await accessSet('emit broker', file, { ...options, list }, world)
  const { houses, broker } = set
  if (!check) await mustBeOwn(list, set, world)
  const place = given ?? resolve(world.cwd, out)
  const settings = brokerSettings(broker, { place, passwords: basename(passwords ?? PASSWORDS_FILE) })
  const nodes = Math.max(...houses.map(({ register }) => addressesOf(register.broker, 'mqtt').length))
  if (nodes > 1)
    world.stderr.write(
      `The register names ${nodes} nodes; these settings are those of one mosquitto, at the first address: mosquitto makes no cluster. sashtally manual cluster shows a broker that does.\n`,
    )
  const exits: Exit[] = []
  for (const [name, text] of [
    [SETTINGS_FILE, settings],
    [ACCESS_FILE, accessListOf(houses)],
  ] as const) {
    exits.push(await deliver({ text, out: join(out, name), check }, world))
  }
  if (check) return exits.find(exit => exit !== EXIT.fine) ?? EXIT.fine
  if (passwords !== undefined) await makeAccounts(houses, { passwords, renew }, world)
  const made = passwords ?? join(out, PASSWORDS_FILE)
  const tell = (line: string): void => void world.stderr.write(`${line}\n`)
  if (!existsSync(resolve(world.cwd, made))) tell(`The accounts are not made yet: --accounts ${made} makes them.`)
  for (const line of trialOf(out, place, world)) tell(line)
  for (const line of stepsOf({ out, place, passwords: made, isOverTls: needsCertificate(broker) }, world)) tell(line)
  return EXIT.fine
}

/** How the set is tried where it was made, before anything is installed. */
function trialOf(out: string, place: string, world: World): string[] {
  const isHere = resolve(world.cwd, out) === resolve(world.cwd, place)
  return [
    `To try it here first, while no other broker has its ports${isHere ? '' : ', make it once more without --place'}:`,
    `  mosquitto -v -c ${join(out, SETTINGS_FILE)}   # Ctrl-C ends it; what it kept is lost where you may not write to /var/lib/mosquitto`,
  ]
}

interface Made {
  readonly out: string
  readonly place: string
  /** The password file, where it was made. */
  readonly passwords: string
  readonly isOverTls: boolean
}

/** What brings the set into use on Debian, the first time and after every edit of the register. */
function stepsOf({ out, place, passwords, isOverTls }: Made, world: World): string[] {
  const settings = join(place, SETTINGS_FILE)
  const copies: readonly (readonly [from: string, to: string, owner: string])[] = [
    [join(out, SETTINGS_FILE), settings, '-m 0644'],
    [join(out, ACCESS_FILE), join(place, ACCESS_FILE), '-m 0600 -o mosquitto'],
    [passwords, join(place, basename(passwords)), '-m 0600 -o mosquitto'],
  ]
  const needed = copies.filter(([from, to]) => resolve(world.cwd, from) !== to)
  return [
    'To bring it into use on the machine of the broker, now and after every edit of the register:',
    ...(needed.length > 0 ? [`  sudo cp -n ${settings} ${settings}.before   # what stood there first`] : []),
    ...needed.map(([from, to, owner]) => `  sudo install ${owner} ${from} ${to}`),
    ...copies
      .filter(copy => !needed.includes(copy) && copy[2].includes('-o'))
      .map(([, to]) => `  sudo chown mosquitto ${to}`),
    '  sudo systemctl reload mosquitto   # new accounts and rights; nobody is put off',
    `  sudo systemctl restart mosquitto  # in its place where ${SETTINGS_FILE} is new`,
    ...(isOverTls
      ? [
          `Put your certificate and its key beside them first: ${join(place, CERTIFICATE_FILE)}, ${join(place, KEY_FILE)}.`,
        ]
      : []),
  ]
}
