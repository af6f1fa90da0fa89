import { DEFAULTS } from '../budget/circuit/sender.ts'
import type { CellHistory, PastCell } from '../budget/lives/cell-history.ts'
import { AS_THEY_STAND } from '../budget/lives/cold-weights.ts'
import { meanRate, type RateInput, rateOf, silenceChance } from '../budget/lives/rate.ts'
import { assumedSeason, learnSeason, type Season, seasonDays } from '../budget/lives/season.ts'
import type { Ledger } from '../ledger/apply.ts'
import { type CellRecord, cellsOf } from '../ledger/cells.ts'
import { heardAt } from '../ledger/fold.ts'
import type { Opening, Register } from '../register/types.ts'
import { clamp } from '../text/clamp.ts'
import { median } from '../text/median.ts'
import { own } from '../text/own.ts'
import { DAY, DAYS_IN_YEAR } from '../text/time.ts'
import { wallOf } from '../text/time-zone.ts'
import { cellKind } from './cell-kind.ts'
import { type CellModel, isKnownCell, type ModelInCold, modelOf, sendsPerOpening } from './model.ts'
import { coldOf, wornLife } from './worn.ts'

/**
 * A cell that the model says cannot start its module, but that has sent, shows the model to be wrong there: the guess is
 * then what the longest-lived cell of that opening has given, at least one send, with the wide range of a kind without
 * a count.
 */
const guessOf = ({ sends, past }: CellRecord): number => Math.max(1, sends, ...past.map(cell => cell.sends))

/**
 * The present and the past cells of every opening whose cell the model knows; without those of which nothing has been
 * heard where the load never starts.
 */
export function historiesOf(
  register: Register,
  ledger: Ledger,
  now: number,
  season = seasonOf(register, ledger, now),
): readonly CellHistory[] {
  const records = new Map(cellsOf(ledger, now).map(record => [record.mark, record]))
  const costs = joinCosts(register, ledger)
  return register.openings.flatMap(opening => {
    const record = records.get(opening.mark)
    const model = record && modelOf(opening, record.type)
    if (!model) return []
    const around = { ledger, now, season, cost: costs.get(opening.mark) ?? 1 }
    const { byWeight } = model
    if (byWeight) {
      const cells = byWeight.map((_, weight) => historyOf(opening, record, model, { ...around, weight }))
      return [{ ...cells[AS_THEY_STAND]!, byWeight: cells }]
    }
    const isHeard = record.sends > 0 || record.past.some(({ sends }) => sends > 0)
    return model.sends > 0 || isHeard ? [historyOf(opening, record, model, around)] : []
  })
}

/** When anything was last heard in the house, or a cell was fitted; milliseconds since the epoch. */
export function lastHeard(ledger: Ledger, now: number): number {
  const heard = Object.values(ledger.marks).flatMap(({ fold }) => heardAt(fold) ?? [])
  const all = [...heard, ...cellsOf(ledger, now).map(({ quietSince }) => quietSince)]
  return Math.min(now, all.reduce((last, at) => Math.max(last, at), 0) || now)
}

function kindOf(opening: Opening, type: string | undefined): string {
  const { countKnown = false, byWeight } = modelOf(opening, type) ?? {}
  return cellKind(type, opening.sender.load, countKnown, byWeight !== undefined)
}

interface Around {
  readonly ledger: Ledger
  readonly now: number
  readonly season: Season
  /** What a send of this opening costs, in sends of the house's middle module. */
  readonly cost: number
  /** Index in `COLD_WEIGHTS`: how much the cold counts, where it is cold. */
  readonly weight?: number
}

function historyOf(
  opening: Opening,
  record: CellRecord,
  model: CellModel,
  { ledger, now, season, cost, weight = AS_THEY_STAND }: Around,
): CellHistory {
  const { settings, sender } = opening
  const type = isKnownCell(record.type) ? record.type : sender.cell
  const guess = guessOf(record)
  const weighed = ({ byWeight, sends }: CellModel): ModelInCold => byWeight?.[weight] ?? { sends }
  const { sends: modelSends, shares } = weighed(model)
  const rate = {
    ...(settings.openingsPerYear === undefined ? {} : { openingsPerYear: settings.openingsPerYear }),
    observedOpenings: sum(record.months),
    observedDays: sum(record.spans.map(([from, to]) => seasonDays(from, to, season))),
  }
  const unknownBefore = beforeCount(record, opening, model, ledger, now)
  const volts = voltsOf(record, model)
  const sends = record.failing ? record.sendsThrough : record.sends
  const perOpening = sendsPerOpening(sender.reports)
  const known = rateOf(rate)
  const perYear = (known ? meanRate(known) : DEFAULTS.openingsPerYear) * perOpening
  return {
    mark: opening.mark,
    kind: kindOf(opening, type),
    modelMedian: modelSends / cost || guess,
    countKnown: model.countKnown,
    ...(model.atLeast ? { atLeast: true } : {}),
    ...(modelSends === 0 ? { modelRefuted: true } : {}),
    sendsPerOpening: perOpening,
    sends,
    ...(shares ? { cold: coldOf(shares, record, sends, perYear, now) } : {}),
    quietDays: seasonDays(record.quietSince, now, season),
    ...(record.spent ? { ended: true } : record.failing ? { failing: true } : {}),
    ...(unknownBefore === undefined ? {} : { unknownBefore }),
    ...(volts ? { volts } : {}),
    past: [...record.past, ...(record.spent ? [{ ...record, ended: 'failed' as const }] : [])].map((cell): PastCell => {
      const cellType = isKnownCell(cell.type) ? cell.type : type
      const cellModel = modelOf(opening, cellType) ?? model
      const inCold = weighed(cellModel)
      const before = beforeCount(cell, opening, cellModel, ledger, now)
      const life = cell.ended === 'failed' ? deathOf(cell) : changedEarly(cell, rate, season)
      return {
        kind: kindOf(opening, cellType),
        modelMedian: inCold.sends / cost || guess,
        ...(before === undefined ? {} : { unknownBefore: before }),
        ...(inCold.shares ? wornLife(inCold.shares, life, cell, countBegan(ledger, now)) : life),
      }
    }),
    ...rate,
    replaceBelow: settings.replaceBelow,
  }
}

/** A rested cell is as good as new down to here under a new one's volts: makers give 3.15 V and more of a CR2032. */
const AS_NEW_MILLIVOLTS = 50

/**
 * Sends before the count began: since the cell was fitted, and before that by its rested volts, which fall from new to
 * the end in proportion to what was sent.
 */
function beforeCount(
  cell: Pick<CellRecord, 'counted' | 'fittedAt' | 'fittedMillivolts'>,
  opening: Opening,
  { sends, volts }: CellModel,
  ledger: Ledger,
  now: number,
): CellHistory['unknownBefore'] {
  const here = cell.counted ? undefined : sentBefore(opening, ledger, now, cell.fittedAt)
  if (here === 'unknown' || volts === undefined || cell.fittedMillivolts === undefined) return here
  const fallen = volts.rested.new - cell.fittedMillivolts
  if (fallen <= AS_NEW_MILLIVOLTS) return here
  return (here ?? 0) + (sends * fallen) / (volts.rested.new - volts.rested.end)
}

/** What the module has measured of this cell, and of those that died while it was in place. */
function voltsOf({ line, past }: CellRecord, { volts }: CellModel): CellHistory['volts'] {
  if (!line || !volts) return undefined
  const ended = past.flatMap(({ ended, line, sends }) => (ended === 'failed' && line ? [{ line, sends }] : []))
  return { line, newMillivolts: volts.loaded.new, resetMillivolts: volts.loaded.end, ended }
}

/** Join times under which nothing is said of a module. */
const FEWEST_JOINS = 3
/** A module is not taken to cost more or less than so many times the middle one. */
const MOST_TIMES = 2
/** Join times tell no more than this of what a send costs; modules that differ by less share what is worked out. */
const AS_GOOD_AS = Math.log(1.025)
const rounded = (cost: number): number => Math.exp(AS_GOOD_AS * Math.round(Math.log(cost) / AS_GOOD_AS))

/**
 * What a send of each opening costs, in sends of the middle module of its sender: one that joins a tenth slower is
 * awake a tenth longer. The model's load is taken to be the middle module's.
 */
function joinCosts({ openings }: Register, ledger: Ledger): ReadonlyMap<string, number> {
  const bySender = new Map<string, [mark: string, milliseconds: number][]>()
  for (const { mark, sender } of openings) {
    const joins = own(ledger.marks, mark)?.fold.joins ?? []
    if (joins.length < FEWEST_JOINS) continue
    const known = bySender.get(sender.name) ?? []
    bySender.set(sender.name, [...known, [mark, median(joins.map(({ milliseconds }) => milliseconds))]])
  }
  return new Map(
    [...bySender.values()].flatMap(modules => {
      const usual = median(modules.map(([, milliseconds]) => milliseconds))
      return modules.map(([mark, own]): [string, number] => [
        mark,
        rounded(clamp(own / usual, 1 / MOST_TIMES, MOST_TIMES)),
      ])
    }),
  )
}

const deathOf = (cell: { readonly sends: number; readonly sendsThrough?: number }) => {
  const through = cell.sendsThrough ?? cell.sends
  return { failedBetween: [through, through + 1] as const }
}

/** It came out while nobody knew whether it still ran: as silent as it was then. */
function changedEarly(
  { sends, lastAt, endedAt }: CellRecord['past'][number],
  rate: RateInput,
  season: Season,
): { runningAt: number; silence: number } {
  const known = rateOf(rate)
  const quiet = lastAt === undefined || endedAt === undefined ? 0 : seasonDays(lastAt, endedAt, season)
  return { runningAt: sends, silence: known ? silenceChance(known, quiet) : 1 }
}

const sum = (values: readonly number[]): number => values.reduce((all, value) => all + value, 0)

/** The season of this house: assumed by its time zone, learned from its months. */
export const seasonOf = ({ timezone }: Register, ledger: Ledger, now: number): Season =>
  learnSeason(
    cellsOf(ledger, now),
    assumedSeason(at => wallOf(at, timezone) - at),
  )

const countBegan = ({ since }: Ledger, now: number): number => (since === undefined ? now : Date.parse(since))

/** Sends between the fitting, or the date that the register gives for it, and the beginning of the count. */
function sentBefore(
  opening: Opening,
  ledger: Ledger,
  now: number,
  fittedAt = Date.parse(opening.cellFitted ?? ''),
): CellHistory['unknownBefore'] {
  if (Number.isNaN(fittedAt)) return 'unknown'
  const days = (countBegan(ledger, now) - fittedAt) / DAY
  // a day that has not come says nothing of the cell that is there now
  if (fittedAt > now + DAY) return 'unknown'
  if (!(days > 0)) return undefined
  const perYear = opening.settings.openingsPerYear
  return perYear === undefined ? 'unknown' : (perYear * sendsPerOpening(opening.sender.reports) * days) / DAYS_IN_YEAR
}
