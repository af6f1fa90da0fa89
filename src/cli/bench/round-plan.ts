import { leftOf } from '../../house/forecast.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { read } from '../../ledger/read.ts'
import { planRound, type Round } from '../../ledger/round.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'

/** What a tally, or its keeper, knows that a walk may build on. */
export interface BeforeRound {
  readonly readings: readonly Pick<Reading, 'mark' | 'doubts' | 'provenAt'>[]
  /** When somebody last walked round, ISO 8601. */
  readonly lastRoundAt?: string | undefined
}

/** What a ledger knows for a walk at a time; milliseconds since the epoch. */
export const knownOf = (register: Register, ledger: Ledger, now: number): BeforeRound => ({
  readings: read(ledger, now, undefined, leftOf(register, ledger, now)),
})

/** The walk of a register, knowing what the tally knows. */
export function planOf(
  register: Register,
  { readings, lastRoundAt }: BeforeRound,
  startedAt: string,
  leaveOutNatural: boolean,
): Round {
  return planRound({
    stops: register.openings.map(({ mark, name, room, at, sender }) => ({
      mark,
      name,
      power: sender.power,
      ...(room === undefined ? {} : { room }),
      ...(at === undefined ? {} : { at }),
    })),
    sides: register.sides,
    startedAt,
    ...(lastRoundAt === undefined ? {} : { lastRoundAt }),
    provenAt: Object.fromEntries(readings.map(({ mark, provenAt }) => [mark, provenAt])),
    overdue: new Set(readings.filter(({ doubts }) => doubts.includes('overdue')).map(({ mark }) => mark)),
    leaveOutNatural,
  })
}
