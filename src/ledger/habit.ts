import type { Entry } from '../protocol/entry.ts'
import { HOUR, MINUTE } from '../text/time.ts'

/** How often an opening is opened by itself: walks and tests left out. */
export interface Habit {
  /** Natural openings by month (UTC), January first: twelve numbers. */
  readonly months: readonly number[]
  /** Counted from here on, where openings had been counted before: milliseconds since the epoch. */
  readonly from?: number
  /** Times of the newest of them, milliseconds since the epoch: a walk or a test that is told after them takes them back. */
  readonly latest: readonly number[]
}

const NO_HABIT: Habit = { months: new Array<number>(12).fill(0), latest: [] }
const LATEST = 8

/** A walk tells at its end what it heard: at most so long after. */
const WALK = 12 * HOUR
/** A test at the contact: the tries of so long before it are its own. */
const TEST = 30 * MINUTE

/** Adds an opening. @param before - openings that were counted earlier */
export function addOpening(habit: Habit | undefined, before: number, at: number): Habit {
  const { months, latest, ...rest } = habit ?? (before === 0 ? NO_HABIT : { ...NO_HABIT, from: at })
  return { ...rest, months: changed(months, at, 1), latest: [...latest, at].slice(-LATEST) }
}

/** Takes back what a walk (its newest opening) or a test (all of its tries) has opened. */
export function leaveOutTests(habit: Habit, { what, text, at }: Entry): Habit {
  const isWalk = what === 'round' && text === 'heard'
  const isTest = what === 'proved' || what === 'failed'
  if (!(isWalk || isTest)) return habit
  const from = Date.parse(at) - (isWalk ? WALK : TEST)
  const recent = habit.latest.filter(time => time >= from)
  const tests = isWalk ? recent.slice(-1) : recent
  if (tests.length === 0) return habit
  const months = tests.reduce((counts, time) => changed(counts, time, -1), habit.months)
  return { ...habit, months, latest: habit.latest.filter(time => !tests.includes(time)) }
}

const changed = (months: readonly number[], at: number, by: number): readonly number[] => {
  const changing = new Date(at).getUTCMonth()
  return months.map((count, month) => (month === changing ? Math.max(0, count + by) : count))
}

/** The habit of an opening that had another mark before. */
export const addHabit = (old: Habit | undefined, now: Habit | undefined): Habit | undefined =>
  old && now
    ? {
        ...old,
        months: old.months.map((count, month) => count + now.months[month]!),
        latest: [...old.latest, ...now.latest].slice(-LATEST),
      }
    : (now ?? old)
