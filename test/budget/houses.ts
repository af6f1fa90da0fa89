/**
 * Whole houses played day by day: openings by chance, cells whose lives are drawn from a world, walks and changes by a
 * policy. Nothing of the forecast is used here, so that the forecast can be measured against it.
 */
import { gauss, seeded } from './random.ts'

type Random = () => number

/** What one house's cells are like. */
export interface Cells {
  /** Sends that a new cell of an opening with this median gives, drawn. */
  life(random: Random, median: number): number
  /** Chance that such a cell gives at least so many sends. */
  survival(median: number, sends: number): number
  /** Median of the kind in this house. */
  readonly median: number
  /** Standard deviation of the logarithm of each opening's own factor on it. */
  readonly ownSd: number
  /** Part of the sends that is missing at midwinter. */
  readonly winterLoss?: number
}

export interface World {
  readonly name: string
  cells(random: Random): Cells
}

const Z90 = 1.6448536269514722
const logNormal = (random: Random, median: number, sd: number): number => median * Math.exp(sd * gauss(random))
export const within = (factor: number): number => Math.log(factor) / Z90
export const weibull = (random: Random, median: number, shape: number): number =>
  median * (-Math.log(1 - random()) / Math.LN2) ** (1 / shape)

/** What the model says in all of these worlds, sends. */
export const MODEL = 20

/** The prior of the forecast, written again: half of new cells give the model, median within 1.5, shape around 3 within 2, own factors around 0.2. */
const shapeOf = (random: Random): number => logNormal(random, 3, within(2))
const ratioOf = (random: Random): number => logNormal(random, 1.0266, within(1.5))
const ownSdOf = (random: Random): number => logNormal(random, 0.2, within(2))

const usual = (random: Random, other: Partial<Cells> & { shape?: number } = {}): Cells => {
  const shape = other.shape ?? shapeOf(random)
  return {
    median: MODEL * ratioOf(random),
    ownSd: ownSdOf(random),
    life: (from, median) => weibull(from, median, shape),
    survival: (median, sends) => 2 ** -((sends / median) ** shape),
    ...other,
  }
}

export const WORLDS: readonly World[] = [
  { name: "the prior's own", cells: random => usual(random) },
  {
    name: 'log-normal lives',
    cells: random => usual(random, { life: (from, median) => logNormal(from, median, 0.4) }),
  },
  {
    name: 'two batches, 12 and 28',
    cells: random => {
      const shape = shapeOf(random)
      return usual(random, {
        median: MODEL,
        life: (from, median) => weibull(from, (median / MODEL) * (from() < 0.5 ? 12 : 28), shape),
      })
    },
  },
  { name: 'shape 1.5', cells: random => usual(random, { shape: 1.5 }) },
  { name: 'shape 6', cells: random => usual(random, { shape: 6 }) },
  { name: '30 % fewer at midwinter', cells: random => usual(random, { winterLoss: 0.3 }) },
  { name: 'own factors, sd 0.4', cells: random => usual(random, { ownSd: 0.4 }) },
  { name: 'a median of 40', cells: random => usual(random, { median: 40 }) },
]

export const YEAR = 365.25
/** Openings of a day against the mean: fewer by `swing` at midwinter (day 0), more in summer. */
const season = (day: number, swing: number): number => 1 - swing * Math.cos((2 * Math.PI * day) / YEAR)

/** A cell that came out, as a tally knows it. */
export interface Ended {
  readonly sends: number
  readonly failed: boolean
  /** Day of the last word before it came out (or of its fitting), and day on which it came out. */
  readonly lastAt: number
  readonly endedAt: number
}

export class Contact {
  readonly mark: string
  readonly perDay: number
  readonly median: number
  life: number
  sends = 0
  /** Day of the try that failed, found or not. */
  deadAt: number | undefined
  fittedAt: number
  lastAt: number
  natural = 0
  readonly past: Ended[] = []
  readonly count = { cells: 0, tests: 0, missed: 0, deadDays: 0 }

  constructor(mark: string, perDay: number, median: number, life: number, day: number) {
    this.mark = mark
    this.perDay = perDay
    this.median = median
    this.life = life
    this.fittedAt = day
    this.lastAt = day
  }
}

export interface House {
  readonly cells: Cells
  readonly contacts: readonly Contact[]
  /** Days from midwinter to the beginning. */
  readonly begin: number
  readonly random: Random
  /** By how much fewer openings midwinter has than the mean. */
  readonly swing: number
  day: number
}

const SWING = 0.3

/** A house of new cells. */
export function startHouse(world: World, seed: number, openings = 12, perYear = 30): House {
  const random = seeded(seed)
  const cells = world.cells(random)
  const contacts = Array.from({ length: openings }, (_, i) => {
    const median = logNormal(random, cells.median, cells.ownSd)
    const perDay = logNormal(random, perYear, 0.4) / YEAR
    return new Contact(`W${String(i + 1).padStart(2, '0')}`, perDay, median, cells.life(random, median), 0)
  })
  return { cells, contacts, begin: random() * YEAR, random, swing: SWING, day: 0 }
}

/** Sends the present cell would give today. */
const lifeOn = ({ cells, begin }: House, { life }: Contact, day: number): number =>
  life * (1 - ((cells.winterLoss ?? 0) * (1 + Math.cos((2 * Math.PI * (begin + day)) / YEAR))) / 2)

function tryOnce(house: House, contact: Contact, day: number): boolean {
  if (contact.deadAt !== undefined) return false
  if (lifeOn(house, contact, day) >= contact.sends + 1) {
    contact.sends++
    contact.lastAt = day
    return true
  }
  contact.deadAt = day
  return false
}

/** Lets a day pass. */
export function passDay(house: House): void {
  const { random, begin, swing, day } = house
  for (const contact of house.contacts) {
    const mean = contact.perDay * season(begin + day, swing)
    for (let at = -Math.log(1 - random()) / mean; at < 1; at += -Math.log(1 - random()) / mean) {
      if (tryOnce(house, contact, day + at)) contact.natural++
      else contact.count.missed++
    }
    if (contact.deadAt !== undefined) contact.count.deadDays += Math.min(1, day + 1 - contact.deadAt)
  }
  house.day++
}

/** Opens it on purpose: whether its word came. */
export function testContact(house: House, contact: Contact): boolean {
  contact.count.tests++
  return tryOnce(house, contact, house.day)
}

/** A new cell; `failed`: it was found dead. */
export function changeCell(house: House, contact: Contact, failed: boolean): void {
  const { sends, lastAt } = contact
  contact.past.push({ sends, failed, lastAt, endedAt: house.day })
  contact.count.cells++
  contact.life = house.cells.life(house.random, contact.median)
  contact.sends = 0
  contact.deadAt = undefined
  contact.fittedAt = house.day
  contact.lastAt = house.day
}

/** A walk: every contact is opened, what stays silent gets a new cell. */
export function walk(house: House): void {
  for (const contact of house.contacts) if (!testContact(house, contact)) changeCell(house, contact, true)
}

/** Sends left in truth: 0 where it is dead already. */
export const trulyLeft = (house: House, contact: Contact): number =>
  contact.deadAt === undefined ? Math.max(0, lifeOn(house, contact, house.day) - contact.sends) : 0
