import { bagOf, count, fields, LONGEST, mark, number, oneOf, parse, words } from './parts.ts'
import type { Policy } from './policy.ts'

const MOST_OPENINGS = 5_000
const MOST_NAMES = 64

export interface RegisterNoteOpening {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly kind: string
  readonly at?: { readonly side: string; readonly floor: number; readonly along?: number }
  readonly reports: 'openings' | 'both'
  readonly cell?: string
  readonly policy: Policy
}

/** The register as a wall may see it: nothing of topics, client ids, broker, Wi-Fi or prices. */
export interface RegisterNote {
  readonly v: 1
  readonly house: string
  readonly timezone: string
  readonly sides: readonly string[]
  readonly floors: number
  readonly roof: string
  readonly openings: readonly RegisterNoteOpening[]
}

function policyOf(value: unknown): Policy | undefined {
  const bag = bagOf(value)
  if (!bag) return undefined
  const [reports, power] = [oneOf(['openings', 'both'], bag.reports), oneOf(['cell', 'mains'], bag.power)]
  const [keepAliveSeconds, bootSeconds, bounceSeconds, provenWithinDays, replaceBelow] = [
    number(bag.keepAliveSeconds),
    number(bag.bootSeconds),
    number(bag.bounceSeconds),
    number(bag.provenWithinDays),
    number(bag.replaceBelow),
  ]
  if (!reports || !power || keepAliveSeconds === undefined || bootSeconds === undefined) return undefined
  if (bounceSeconds === undefined || provenWithinDays === undefined || replaceBelow === undefined) return undefined
  const was = Array.isArray(bag.was) ? bag.was.slice(0, MOST_NAMES).flatMap(each => mark(each) ?? []) : undefined
  return fields<Policy>({
    reports,
    power,
    keepAliveSeconds,
    bootSeconds,
    bounceSeconds,
    repeatSeconds: number(bag.repeatSeconds),
    provenWithinDays,
    takeAsClosedAfterMinutes: number(bag.takeAsClosedAfterMinutes) ?? null,
    replaceBelow,
    cellFitted: words(bag.cellFitted),
    cell: words(bag.cell),
    revision: words(bag.revision),
    modelSends: number(bag.modelSends),
    was,
  })
}

function openingOf(value: unknown): RegisterNoteOpening | undefined {
  const bag = bagOf(value)
  const [whose, reports, policy] = [mark(bag?.mark), oneOf(['openings', 'both'], bag?.reports), policyOf(bag?.policy)]
  if (!bag || !whose || !reports || !policy) return undefined
  const place = bagOf(bag.at)
  const [side, floor, along] = [words(place?.side), count(place?.floor), number(place?.along)]
  const at =
    side !== undefined && floor !== undefined
      ? fields<NonNullable<RegisterNoteOpening['at']>>({ side, floor, along })
      : undefined
  return fields<RegisterNoteOpening>({
    mark: whose,
    name: words(bag.name) ?? whose,
    room: words(bag.room),
    kind: words(bag.kind) ?? 'window',
    at,
    reports,
    cell: words(bag.cell),
    policy,
  })
}

/** The house from `register`; undefined when it, or any one of its openings, does not fit or a mark comes twice. */
export function parseRegisterNote(text: string): RegisterNote | undefined {
  const bag = parse(text, LONGEST.register)
  if (!bag || !Array.isArray(bag.openings) || bag.openings.length > MOST_OPENINGS) return undefined
  const openings = bag.openings.flatMap(each => openingOf(each) ?? [])
  const marks = new Set(openings.map(each => each.mark.toUpperCase()))
  if (openings.length !== bag.openings.length || marks.size !== openings.length) return undefined
  const [house, timezone, floors] = [words(bag.house), words(bag.timezone), count(bag.floors)]
  if (house === undefined || timezone === undefined) return undefined
  const sides = Array.isArray(bag.sides) ? bag.sides.slice(0, MOST_NAMES).flatMap(each => words(each) ?? []) : []
  return {
    v: 1,
    house,
    timezone,
    sides,
    floors: Math.min(floors ?? 1, 200),
    roof: words(bag.roof) ?? 'gable',
    openings,
  }
}
