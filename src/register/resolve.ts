import type { Steps } from '../text/steps.ts'
import { headerFacts, revisionOf } from './revision.ts'
import type { HouseText, OpeningText, SenderText } from './schema.ts'
import { SETTING_KEYS } from './schema.ts'
import { derivedClient, derivedTopic } from './topics.ts'
import type { LoadName, Opening, Phase, Register, Sender, Settings, Wifi, Words } from './types.ts'

export const DEFAULT_TALLY = 'house/tally'
const DEFAULT_TIMEZONE = 'UTC'

const DEFAULT_SETTINGS: Settings = {
  provenWithinDays: 180,
  replaceBelow: 0.9,
  takeAsClosedAfterMinutes: null,
  bounceSeconds: 30,
}

/** How long each built-in load lasts, power to message, milliseconds. */
export const LOAD_MILLISECONDS: Readonly<Record<LoadName, number>> = {
  'cold-join': 4000,
  'cached-join': 1260,
  'fast-join': 170,
}

/** The same object without the keys that are undefined. */
type Known<T> = { [K in keyof T]: Exclude<T[K], undefined> }
const known = <T extends object>(value: T): Known<T> =>
  Object.fromEntries(Object.entries(value).filter(([, part]) => part !== undefined)) as Known<T>

type SettingsText = { readonly [K in keyof Settings]?: Settings[K] | undefined }

/** Settings of an opening: the nearest wins, opening over sender over house over defaults. */
function settingsOf(...fromFarToNear: readonly SettingsText[]): Settings {
  const settings: Record<string, unknown> = { ...DEFAULT_SETTINGS }
  for (const given of fromFarToNear) {
    // one temperature nearer by takes the place of a season, and a season that of one
    if (given.temperatureCelsius !== undefined) delete settings.seasonCelsius
    if (given.seasonCelsius !== undefined) delete settings.temperatureCelsius
    for (const key of SETTING_KEYS) {
      const value = given[key]
      if (value !== undefined) settings[key] = value
    }
  }
  return settings as unknown as Settings
}

/** Power to message, seconds. */
function bootSecondsOf(load: LoadName | readonly Phase[] | undefined): number {
  if (load === undefined) return 0
  if (typeof load === 'string') return LOAD_MILLISECONDS[load] / 1000
  return load.reduce((sum, phase) => sum + phase.milliseconds, 0) / 1000
}

function resolveSender(name: string, text: SenderText): Sender {
  const power = text.power ?? 'cell'
  const load = power === 'mains' ? undefined : ((text.load as LoadName | Phase[] | undefined) ?? 'cold-join')
  return known({
    name,
    reports: text.reports,
    power,
    cell: text.cell,
    words: known(text.words) as Words,
    keepAliveSeconds: text.keepAliveSeconds ?? (power === 'mains' ? 30 : 4),
    qos: text.qos ?? 1,
    load: typeof load === 'object' ? load.map(plain) : load,
    bootSeconds: bootSecondsOf(load),
    json: text.json && (known(text.json) as Sender['json']),
    wifi: text.wifi && (known(text.wifi) as Wifi),
  }) as Sender
}

const plain = (phase: Phase): Phase => known({ ...phase, burst: phase.burst && known({ ...phase.burst }) }) as Phase

function resolveOpening(
  text: OpeningText,
  house: HouseText,
  senders: Register['senders'],
  tally: string,
  line: number,
): Opening {
  const from = house.senders[text.sender] as SenderText
  const sender = senders[text.sender] as Sender
  const wifi =
    house.wifi || sender.wifi || text.wifi
      ? { ...(house.wifi && known(house.wifi)), ...sender.wifi, ...(text.wifi && known(text.wifi)) }
      : undefined
  return known({
    mark: text.mark,
    name: text.name,
    room: text.room,
    kind: text.kind ?? 'window',
    sender,
    topic: text.topic ?? derivedTopic(tally, text.mark),
    topicDerived: text.topic === undefined,
    client: text.client ?? derivedClient(tally, text.mark),
    clientDerived: text.client === undefined,
    at: text.at && known({ side: text.at.side, floor: text.at.floor ?? 0, along: text.at.along }),
    cellFitted: text.cellFitted,
    was: text.was ?? [],
    settings: settingsOf(house, from, text),
    wifi,
    revision: '',
    line,
  }) as Opening
}

/** The register of a text without errors, in steps: every default resolved, every name derived. */
export function* resolve(house: HouseText, lineOf: (index: number) => number): Steps<Register> {
  const tally = house.tally ?? DEFAULT_TALLY
  const broker: Record<string, unknown> = {}
  for (const [key, given] of Object.entries(house.broker ?? {})) {
    const [first, ...next] = [given ?? []].flat()
    if (first !== undefined) broker[key] = first
    if (next.length > 0) broker[`${key}Next`] = next
  }
  const senders: Record<string, Sender> = {}
  for (const [name, sender] of Object.entries(house.senders)) senders[name] = resolveSender(name, sender)
  const openings: Opening[] = []
  for (const [index, text] of house.openings.entries()) {
    const opening = resolveOpening(text, house, senders, tally, lineOf(index))
    openings.push({ ...opening, revision: revisionOf(headerFacts(opening, broker)) })
    yield
  }
  return known({
    house: house.house ?? 'House',
    timezone: house.timezone ?? DEFAULT_TIMEZONE,
    broker,
    tally,
    sides: house.sides ?? [...new Set(openings.flatMap(opening => opening.at?.side ?? []))],
    floors: house.floors ?? Math.max(0, ...openings.map(opening => opening.at?.floor ?? 0)) + 1,
    roof: house.roof ?? 'gable',
    senders,
    openings,
    homieDomain: house.homieDomain ?? 'homie',
    alerts: house.alerts && known(house.alerts),
    prices: house.prices && { ...house.prices },
  }) as Register
}
