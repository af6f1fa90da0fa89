import type { HousePolicy } from '../../protocol/policy.ts'
import type { Left, Reading, ReadingNote } from '../../protocol/reading.ts'
import type { RegisterNote } from '../../protocol/register-note.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'

/** The register as a wall may see it: nothing of topics, client ids, broker, Wi-Fi or prices. */
export function registerNote(register: Register, policy: HousePolicy): RegisterNote {
  const { house, timezone, sides, floors, roof } = register
  return {
    v: 1,
    house,
    timezone,
    sides,
    floors,
    roof,
    openings: register.openings.map(({ mark, name, room, kind, at, sender }) => {
      const { timezone: _, ...rules } = policy[mark]!
      return {
        mark,
        name,
        ...(room === undefined ? {} : { room }),
        kind,
        ...(at === undefined ? {} : { at }),
        reports: sender.reports,
        ...(sender.cell === undefined ? {} : { cell: sender.cell }),
        policy: rules,
      }
    }),
  }
}

/** Figures are rounded to what can be told apart: a forecast moves a little with every second. */
export function readingNote(name: string, { mark, left, asOf: _, ...reading }: Reading): Omit<ReadingNote, 'asOf'> {
  return { v: 1, mark, name, ...reading, ...(left === undefined ? {} : { left: rounded(left) }) }
}

function rounded({ p05, p50, p95, next, ...rest }: Left): Left {
  const to = (value: number, unit: number): number => Math.round(value * unit) / unit
  return { p05: to(p05, 10), p50: to(p50, 10), p95: to(p95, 10), next: to(next, 1_000), ...rest }
}

/** A published reading without its moment: two that are equal here need not be published twice. */
export function sameReading(payload: string): string {
  try {
    const { asOf: _, ...rest } = JSON.parse(payload) as Record<string, unknown>
    return JSON.stringify(rest)
  } catch {
    return payload
  }
}

/** What the keeper listens to; with `survey`, what the broker keeps of the tally comes too. */
export function filtersOf({ openings }: Register, topics: TallyTopics, survey: boolean): string[] {
  const { filters, register, keeper } = topics
  const own = [register, filters.openings, filters.plains, filters.stories, ...(survey ? [keeper] : [])]
  return [...new Set(openings.map(({ topic }) => topic)), filters.says, filters.echoes, ...own]
}
