/** When to test a contact and when to change its cell: the tool's advice, and others to hold against it. */
import { silenceOf } from '../../src/budget/lives/cell-history.ts'
import { cellLeft, type KindLearned, learnHouse } from '../../src/budget/lives/learn-house.ts'
import { aliveChance } from '../../src/budget/lives/silence.ts'
import { OVERDUE_BELOW } from '../../src/ledger/read.ts'
import { type Contact, changeCell, type House, MODEL, passDay, testContact, trulyLeft, walk, YEAR } from './houses.ts'
import { historiesOf } from './tallied.ts'

export interface Policy {
  readonly name: string
  /** @returns what somebody does at the end of each day */
  start(): (house: House) => void
}

const MONTH = 30
const PROVEN_WITHIN = 180
const REPLACE_BELOW = 0.9
const HALF_YEAR = 182

function test(house: House, contact: Contact): void {
  if (!testContact(house, contact)) changeCell(house, contact, true)
}

/**
 * Somebody looks at the wall once a day. Overdue: test it. Low: change its cell. Nothing heard for half a year: test it.
 * What the cells of the house teach each other is worked out anew after each change of a cell and each month.
 */
export const ADVICE: Policy = {
  name: "the tool's advice",
  start() {
    let learned: { readonly kind: KindLearned; readonly changes: number; readonly day: number } | undefined
    return house => {
      const histories = historiesOf(house)
      const changes = histories.reduce((sum, { past }) => sum + past.length, 0)
      if (learned?.changes !== changes || house.day >= learned.day + MONTH) {
        learned = { kind: learnHouse(histories).get(histories[0]!.kind)!, changes, day: house.day }
      }
      const { kind } = learned
      for (const [i, contact] of house.contacts.entries()) {
        const cell = histories[i]!
        const through = cellLeft(cell, kind).surviving(1)
        const isLow = through < REPLACE_BELOW || (kind.deaths === 0 && contact.sends >= MODEL)
        const isOverdue = aliveChance(silenceOf(cell), through) < OVERDUE_BELOW
        if (isOverdue || house.day - contact.lastAt >= PROVEN_WITHIN) test(house, contact)
        else if (isLow) changeCell(house, contact, false)
      }
    }
  },
}

/** A new cell after so many sends, whatever happens, and a walk each half year. */
export const everySends = (sends: number): Policy => ({
  name: `every ${sends}`,
  start: () => house => {
    if (house.day % HALF_YEAR === 0) walk(house)
    for (const contact of house.contacts) if (contact.sends >= sends) changeCell(house, contact, false)
  },
})

/** A new cell where the old one is dead, found on a walk each half year. */
export const WAITING: Policy = {
  name: 'waiting for death',
  start: () => house => {
    if (house.day % HALF_YEAR === 0) walk(house)
  },
}

/** Knows how many sends each cell gives, and changes it after the last of them, or when it has failed in the cold. */
export const KNOWING: Policy = {
  name: 'one who knows',
  start: () => house => {
    for (const contact of house.contacts) if (trulyLeft(house, contact) < 1) changeCell(house, contact, false)
  },
}

/** For each opening and year. */
export interface Outcome {
  readonly cells: number
  readonly tests: number
  /** Days on which a dead contact was not known to be dead. */
  readonly deadDays: number
  /** Openings that went unheard. */
  readonly missed: number
}

export function play(house: House, policy: Policy, years: number): Outcome {
  const act = policy.start()
  while (house.day < years * YEAR) {
    passDay(house)
    act(house)
  }
  return perOpeningAndYear(house, years)
}

function perOpeningAndYear({ contacts }: House, years: number): Outcome {
  const share = (key: keyof Contact['count']): number =>
    contacts.reduce((sum, { count }) => sum + count[key], 0) / (contacts.length * years)
  return { cells: share('cells'), tests: share('tests'), deadDays: share('deadDays'), missed: share('missed') }
}

export function meanOf(outcomes: readonly Outcome[]): Outcome {
  const mean = (key: keyof Outcome): number => outcomes.reduce((sum, each) => sum + each[key], 0) / outcomes.length
  return { cells: mean('cells'), tests: mean('tests'), deadDays: mean('deadDays'), missed: mean('missed') }
}
