import { slowJoin } from '../budget/advice/slow-join.ts'
import { CELLS } from '../budget/circuit/cells.ts'
import { lifeOf, NOMINAL } from '../budget/circuit/life.ts'
import { DEFAULTS, readySender } from '../budget/circuit/sender.ts'
import { type CellHistory, type CellLeft, leftByMark, type PastCell } from '../budget/lives/left.ts'
import { isSilentBeyond } from '../budget/lives/rate.ts'
import type { BudgetSender } from '../budget/types.ts'
import { type Ledger, own } from '../ledger/apply.ts'
import { type CellRecord, cellsOf } from '../ledger/cells.ts'
import type { Ear, Ears } from '../ledger/hear.ts'
import type { HousePolicy, Policy } from '../protocol/policy.ts'
import type { Left } from '../protocol/reading.ts'
import { canonicalJson, headerFacts } from '../register/revision.ts'
import type { Opening, Register } from '../register/types.ts'

/** Edges a contact reports: each is a send of its cell. */
export const sendsPerOpening = (reports: Opening['sender']['reports']): number => (reports === 'both' ? 2 : 1)

/** What the budget needs of one opening; `cell` overrides the type in the register. */
export function budgetOf(opening: Opening, cell = opening.sender.cell): BudgetSender {
  const { settings, sender } = opening
  return {
    cell,
    load: sender.load,
    resetVolts: settings.resetVolts,
    openMinutes: settings.openMinutes,
    openingsPerYear: settings.openingsPerYear,
    lampMilliamps: settings.lampMilliamps,
    temperatureCelsius: settings.temperatureCelsius,
    sendsPerOpening: sendsPerOpening(opening.sender.reports),
  }
}

const isKnownCell = (type: string | undefined): type is string => CELLS.some(({ name }) => name === type)

interface Model {
  /** Median sends of a new cell: 0 where the load never starts. */
  readonly sends: number
  /** The model leaves what is known of the cell there: it may give more. */
  readonly atLeast: boolean
}

const modelled = new Map<string, Model | undefined>()

/** Undefined where the budget refuses a load that a register lets through. */
function modelBy(sender: BudgetSender): Model | undefined {
  try {
    const { openings, cut } = lifeOf(readySender(sender), NOMINAL, true)
    return { sends: openings * (sender.sendsPerOpening ?? 1), atLeast: cut }
  } catch (error) {
    if (error instanceof RangeError) return undefined
    throw error
  }
}

/** What the model says of a new cell in this opening; undefined without a model. */
export function modelOf(opening: Opening, cell = opening.sender.cell): Model | undefined {
  const type = isKnownCell(cell) ? cell : opening.sender.cell
  if (!isKnownCell(type)) return undefined
  const sender = budgetOf(opening, type)
  const key = JSON.stringify(sender)
  if (!modelled.has(key)) {
    if (modelled.size > 1000) modelled.clear()
    modelled.set(key, modelBy(sender))
  }
  return modelled.get(key)
}

/** Median sends of a new cell in this opening by the model: 0 where the load never starts, undefined without a model. */
export const modelSendsOf = (opening: Opening, cell = opening.sender.cell): number | undefined =>
  modelOf(opening, cell)?.sends

/** What the ledger must know of every opening of a register. */
export function policyOf(register: Register): HousePolicy {
  return Object.fromEntries(
    register.openings.map((opening): [string, Policy] => {
      const { sender, settings } = opening
      const modelSends = sender.power === 'cell' ? modelSendsOf(opening) : undefined
      return [
        opening.mark,
        {
          reports: sender.reports,
          power: sender.power,
          keepAliveSeconds: sender.keepAliveSeconds,
          bootSeconds: sender.bootSeconds,
          bounceSeconds: settings.bounceSeconds,
          provenWithinDays: settings.provenWithinDays,
          takeAsClosedAfterMinutes: settings.takeAsClosedAfterMinutes,
          replaceBelow: settings.replaceBelow,
          revision: opening.revision,
          ...(settings.repeatSeconds === undefined ? {} : { repeatSeconds: settings.repeatSeconds }),
          ...(opening.cellFitted === undefined ? {} : { cellFitted: opening.cellFitted }),
          ...(sender.cell === undefined ? {} : { cell: sender.cell }),
          ...(modelSends === undefined ? {} : { modelSends }),
          ...(opening.was.length ? { was: opening.was } : {}),
        },
      ]
    }),
  )
}

/** What a header of this register holds, for the `text` of a `flashed` entry; undefined for another revision. */
export function factsOf(register: Register): (mark: string, revision: string) => string | undefined {
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  return (mark, revision) => {
    const opening = openings.get(mark)
    return opening?.revision === revision ? canonicalJson(headerFacts(opening, register.broker)) : undefined
  }
}

/** What to listen for on each contact's topic. */
export function earsOf(register: Register): Ears {
  return new Map(
    register.openings.map(({ topic, mark, sender }): [string, Ear] => [
      topic,
      { mark, words: sender.words, ...(sender.json ? { json: sender.json } : {}) },
    ]),
  )
}

/**
 * What every cell has left, in openings. Make it when an entry arrives, not when something is drawn.
 * @param now - milliseconds since the epoch
 */
export function leftOf(register: Register, ledger: Ledger, now: number): Readonly<Record<string, Left>> {
  return Object.fromEntries(
    Object.entries(forecastOf(register, ledger, now)).map(([mark, cell]): [string, Left] => {
      const { left: _, untilLow, neverLow, countOn, changeBy, ...left } = cell
      const slow = slowJoinOf(ledger, mark)
      return [mark, { ...left, ...(slow ? { slowJoin: slow } : {}) }]
    }),
  )
}

/** Early warning: the first words of this module come later and later. */
export function slowJoinOf(ledger: Ledger, mark: string): Left['slowJoin'] {
  const joins = own(ledger.marks, mark)?.fold.joins ?? []
  const found = slowJoin(joins.map(({ at, milliseconds }) => ({ at, delayMilliseconds: milliseconds })))
  return found?.slow ? { ratio: found.ratio, words: found.words } : undefined
}

const NOTHING = { p05: 0, p50: 0, p95: 0 } as const
const NOTHING_LEFT = { ...NOTHING, left: NOTHING, next: 0, untilLow: 0, countOn: 0 } as const

/** As `leftOf`, with until when the next opening can be relied on and by when to test or change. */
export function forecastOf(register: Register, ledger: Ledger, now: number): Readonly<Record<string, CellLeft>> {
  const result: Record<string, CellLeft> = { ...leftByMark(historiesOf(register, ledger, now), { now }) }
  const openings = new Map(register.openings.map(opening => [opening.mark, opening]))
  for (const { mark, type } of cellsOf(ledger, now)) {
    const opening = openings.get(mark)
    const cell = result[mark]
    const neverStarts = !cell && opening !== undefined && modelOf(opening, type) !== undefined
    const isSpent = cell && own(ledger.marks, mark)?.fold.spent
    const restsOn = cell?.restsOn ?? ({ source: 'practice', assumed: true, cells: 0, deaths: 0 } as const)
    const before = cell?.sentBefore ? { sentBefore: true as const } : {}
    if (neverStarts || isSpent)
      result[mark] = { ...NOTHING_LEFT, ...(isSpent ? { changeBy: now } : {}), ...before, restsOn }
  }
  return result
}

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
export function historiesOf(register: Register, ledger: Ledger, now: number): readonly CellHistory[] {
  const records = new Map(cellsOf(ledger, now).map(record => [record.mark, record]))
  return register.openings.flatMap(opening => {
    const record = records.get(opening.mark)
    const model = record && modelOf(opening, record.type)
    if (!model || (model.sends === 0 && record.sends === 0 && record.past.every(({ sends }) => sends === 0))) return []
    return [historyOf(opening, record, model, ledger, now)]
  })
}

/**
 * A count from practice exists for a CR2032 under a cold join at room temperature, that resets where most do and
 * lights no lamp.
 */
function isCountKnown({ settings, sender }: Opening, type: string | undefined): boolean {
  const {
    resetVolts = DEFAULTS.resetVolts,
    temperatureCelsius = DEFAULTS.temperatureCelsius,
    lampMilliamps = 0,
  } = settings
  const isUsual = resetVolts === DEFAULTS.resetVolts && temperatureCelsius >= DEFAULTS.temperatureCelsius
  return type === 'CR2032' && sender.load === 'cold-join' && isUsual && lampMilliamps === 0
}

/** Cells that learn from each other: of one type and load, with a count from practice or all without. */
const kindOf = (opening: Opening, type: string | undefined): string =>
  JSON.stringify([type, opening.sender.load, isCountKnown(opening, type)])

function historyOf(opening: Opening, record: CellRecord, model: Model, ledger: Ledger, now: number): CellHistory {
  const { settings, sender } = opening
  const type = isKnownCell(record.type) ? record.type : sender.cell
  const guess = guessOf(record)
  const quiet = Math.min(record.quietDays ?? Number.POSITIVE_INFINITY, record.observedDays)
  const rate = {
    ...(settings.openingsPerYear === undefined ? {} : { openingsPerYear: settings.openingsPerYear }),
    observedOpenings: record.openings,
    observedDays: record.observedDays - quiet,
  }
  const unknownBefore = record.counted ? undefined : sentBefore(opening, ledger, now, record.fittedAt)
  return {
    mark: opening.mark,
    kind: kindOf(opening, type),
    modelMedian: model.sends || guess,
    countKnown: isCountKnown(opening, type),
    ...(model.atLeast ? { atLeast: true } : {}),
    ...(model.sends === 0 ? { modelRefuted: true } : {}),
    sendsPerOpening: sendsPerOpening(opening.sender.reports),
    sends: record.failing ? record.sendsThrough : record.sends,
    ...(unknownBefore === undefined ? {} : { unknownBefore }),
    past: [...record.past, ...(record.failing ? [{ ...record, ended: 'failed' as const }] : [])].map(
      (cell): PastCell => {
        const before = cell.counted ? undefined : sentBefore(opening, ledger, now, cell.fittedAt)
        const cellType = isKnownCell(cell.type) ? cell.type : type
        return {
          kind: kindOf(opening, cellType),
          modelMedian: (modelSendsOf(opening, cellType) ?? model.sends) || guess,
          ...(before === undefined ? {} : { unknownBefore: before }),
          ...(cell.ended === 'failed' ? deathOf(cell) : { runningAt: cell.sends }),
        }
      },
    ),
    // A cell that fails stands among the lives that ended; it must not be counted as running beside that.
    silentBeyond99: record.failing || isSilentBeyond(rate, quiet),
    ...rate,
    replaceBelow: settings.replaceBelow,
  }
}

const deathOf = (cell: { readonly sends: number; readonly sendsThrough?: number }) => {
  const through = cell.sendsThrough ?? cell.sends
  return { failedBetween: [through, through + 1] as const }
}

/** Sends between the fitting, or the date that the register gives for it, and the beginning of the count. */
function sentBefore(
  opening: Opening,
  ledger: Ledger,
  now: number,
  fittedAt = Date.parse(opening.cellFitted ?? ''),
): CellHistory['unknownBefore'] {
  if (Number.isNaN(fittedAt)) return 'unknown'
  const since = ledger.since === undefined ? now : Date.parse(ledger.since)
  const days = (since - fittedAt) / 86_400_000
  if (!(days > 0)) return undefined
  const perYear = opening.settings.openingsPerYear
  return perYear === undefined ? 'unknown' : (perYear * sendsPerOpening(opening.sender.reports) * days) / 365.25
}
