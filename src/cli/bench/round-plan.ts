import { leftOf } from '../../house/forecast.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { read } from '../../ledger/read.ts'
import { planRound, type Round } from '../../ledger/round.ts'
import type { Register } from '../../register/types.ts'

/** What the tally knows that a walk may build on. */
export interface BeforeRound {
  readonly ledger: Ledger
  /** When somebody last walked round, ISO 8601. */
  readonly lastRoundAt?: string | undefined
}

/** The walk of a register, knowing what the tally knows. */
export function planOf(
  register: Register,
  { ledger, lastRoundAt }: BeforeRound,
  startedAt: string,
  leaveOutNatural: boolean,
): Round {
  const now = Date.parse(startedAt)
  const readings = read(ledger, now, undefined, leftOf(register, ledger, now))
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
