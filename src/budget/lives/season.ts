import { DAY, DAYS_IN_YEAR } from '../../text/time.ts'

/**
 * How openings follow the year: so many a day as 1 + swing cos(2π (t - summer) / year), times the mean. Windows are
 * opened less in winter; how much less no source says.
 */
export interface Season {
  /** 0 to 0.95: by how much midsummer lies over the mean, and midwinter under it. */
  readonly swing: number
  /** Milliseconds since the epoch: a time of most openings. */
  readonly summer: number
}

const YEAR = DAYS_IN_YEAR * DAY
const MOST_SWING = 0.95

/** Where nothing was counted yet: three in ten fewer at midwinter (assumption), midsummer in the middle of July. */
const ASSUMED_SWING = 0.3
const MID_JULY = Date.UTC(2024, 6, 15)
const JANUARY = Date.UTC(2024, 0, 15)

export const NO_SEASON: Season = { swing: 0, summer: MID_JULY }

/**
 * The season that is assumed in a time zone: midsummer lies where its clocks stand forward, in mid July where they are
 * never put forward.
 * @param offset - by how much the zone's clocks are before UTC's at a time in milliseconds since the epoch; any unit
 */
export const assumedSeason = (offset: (at: number) => number): Season => ({
  swing: ASSUMED_SWING,
  summer: offset(JANUARY) > offset(MID_JULY) ? JANUARY : MID_JULY,
})

/** Days between two times in days of the mean season: a summer day counts for more than one. */
export function seasonDays(from: number, to: number, { swing, summer }: Season): number {
  if (!(to > from)) return 0
  const angle = (at: number): number => (2 * Math.PI * (at - summer)) / YEAR
  const more = (swing * DAYS_IN_YEAR * (Math.sin(angle(to)) - Math.sin(angle(from)))) / (2 * Math.PI)
  return (to - from) / DAY + more
}

/** What was counted at one opening: natural openings by month (UTC, January first) in the times it was listened to. */
export interface CountedMonths {
  readonly months: readonly number[]
  readonly spans: readonly (readonly [from: number, to: number])[]
}

/** Standard deviations of the assumption: of the swing along the assumed midsummer, and across it. Assumption. */
const ALONG = 0.2
const ACROSS = 0.15

/**
 * The house's own season: the assumed one, moved by the months in which openings were counted. Every opening has its
 * own rate, so only the parts of the year are compared: a multinomial likelihood, and its mode under the assumption.
 */
export function learnSeason(openings: readonly CountedMonths[], assumed: Season): Season {
  const seen = openings.flatMap(({ months, spans }) => {
    const count = months.reduce((sum, each) => sum + each, 0)
    return count > 0 ? [{ months, count, days: daysByMonth(spans) }] : []
  })
  if (seen.length === 0) return assumed
  const angles = MONTHS.map(month => (2 * Math.PI * (month - assumed.summer)) / YEAR)
  const [cos, sin] = [angles.map(Math.cos), angles.map(Math.sin)]
  const height = (along: number, across: number): number => {
    if (Math.hypot(along, across) > MOST_SWING) return Number.NEGATIVE_INFINITY
    const levels = cos.map((c, m) => 1 + along * c + across * sin[m]!)
    let sum = -(((along - assumed.swing) / ALONG) ** 2 + (across / ACROSS) ** 2) / 2
    for (const { months, count, days } of seen) {
      let whole = 0
      for (let m = 0; m < 12; m++) {
        whole += days[m]! * levels[m]!
        if (months[m]! > 0) sum += months[m]! * Math.log(levels[m]!)
      }
      sum -= count * Math.log(whole)
    }
    return sum
  }
  const [along, across] = top(height, [assumed.swing, 0])
  const swing = Math.hypot(along, across)
  return { swing, summer: assumed.summer + (Math.atan2(across, along) / (2 * Math.PI)) * YEAR }
}

/** Middles of the months of a year. */
const MONTHS = Array.from({ length: 12 }, (_, month) => Date.UTC(2024, month, 15.5))

/** Days of each month within some times; a month without a day counts a little, so that a stray count breaks nothing. */
function daysByMonth(spans: CountedMonths['spans']): number[] {
  const days = new Array<number>(12).fill(0.01)
  for (const [from, to] of spans) {
    for (let at = from; at < to; ) {
      const date = new Date(at)
      const next = Math.min(to, Date.UTC(date.getUTCFullYear(), date.getUTCMonth() + 1, 1))
      days[date.getUTCMonth()]! += (next - at) / DAY
      at = next
    }
  }
  return days
}

/** The top of a smooth function with one peak, by halving steps along both axes. */
function top(f: (x: number, y: number) => number, start: readonly [number, number]): [number, number] {
  let [x, y] = start
  let height = f(x, y)
  for (let step = 0.2; step > 1e-3; ) {
    const tries = [
      [x + step, y],
      [x - step, y],
      [x, y + step],
      [x, y - step],
    ] as const
    const best = tries
      .map(([a, b]) => [f(a, b), a, b] as const)
      .reduce((one, other) => (other[0] > one[0] ? other : one))
    if (best[0] > height) [height, x, y] = best
    else step /= 2
  }
  return [x, y]
}
