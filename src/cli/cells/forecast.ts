import { type ProofInterval, proofInterval } from '../../budget/advice/proof-interval.ts'
import { fitLifetimes } from '../../budget/lives/fit-lifetimes.ts'
import { lifeLeft } from '../../budget/lives/forecast.ts'
import type { CellHistory, CellLeft } from '../../budget/lives/left.ts'
import { survivalSteps } from '../../budget/lives/survival.ts'
import { historiesOf } from '../../house/cell-histories.ts'
import { forecastOf, slowJoinOf } from '../../house/forecast.ts'
import { read } from '../../ledger/read.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Opening, Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { readRegister, writeWhole } from '../shared/files.ts'
import { readEntries, tallyPlaceOf } from '../shared/history.ts'
import { jsonText } from '../shared/json.ts'
import { plotSvg, type Series } from '../shared/plot.ts'
import { plainNumber } from '../shared/quantity.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from '../world.ts'
import { forecastTable } from './forecast-table.ts'
import { type KindLives, ledgerOf, livesByKind } from './lives.ts'

export const forecastCommand: CommandSpec = {
  name: 'forecast',
  args: '<file>',
  summary: 'Say how many openings each cell has left, how sure that is, and which to test or change next.',
  options: [
    { flags: '--tally <file>', text: 'the tally: one entry a line' },
    { flags: '--data <dir>', text: "the keeper's folder, in place of --tally" },
    { flags: '--accept-days <days>', text: 'days a dead contact may stay unnoticed; default: provenWithinDays' },
    { flags: '--sender <name>', text: 'the kind of contact to plot; default: the one with most openings' },
    { flags: '--plot <file>', text: "survival of the cells as SVG, with the house's own cells on it" },
    { flags: '--json', text: 'print the figures as JSON' },
  ],
  examples: [
    'sashtally forecast examples/ropewalk.yaml',
    'sashtally forecast examples/ropewalk.yaml --accept-days 60 --json',
  ],
  run,
}

/** One opening on a cell, with all that is said of it. */
export interface Row {
  readonly opening: Opening
  readonly reading: Reading
  readonly left?: CellLeft
  /** Days a dead contact may stay unnoticed, and what keeping that costs. */
  readonly proof?: ProofInterval
  readonly slowJoin: boolean
  /** Sends of this cell before the count began are not known. */
  readonly sentBefore: boolean
}

async function run({ args: [path = ''], options }: Given, world: World): Promise<Exit> {
  const accept = acceptDays(options.acceptDays)
  const register = await readRegister(path, world)
  const entries = await readEntries(tallyPlaceOf(options), world, { register })
  const now = world.now()
  const ledger = ledgerOf(register, entries)
  const histories = historiesOf(register, ledger, now)
  const left = forecastOf(register, ledger, now)
  const readings = new Map(read(ledger, now, undefined, left).map(reading => [reading.mark, reading]))
  const cells = new Map(histories.map(cell => [cell.mark, cell]))
  const rows = register.openings
    .filter(opening => opening.sender.power === 'cell')
    .flatMap((opening): Row[] => {
      const reading = readings.get(opening.mark)
      if (!reading) return []
      const cell = cells.get(opening.mark)
      const proof = cell && proofInterval({ ...cell, ...proofOf(opening, cell, accept) })
      return [
        {
          opening,
          reading,
          ...(left[opening.mark] ? { left: left[opening.mark]! } : {}),
          ...(proof ? { proof } : {}),
          sentBefore: cell?.unknownBefore !== undefined,
          slowJoin: slowJoinOf(ledger, opening.mark) !== undefined,
        },
      ]
    })
    .sort(byUrgency)
  const kinds = livesByKind(register, histories)
  if (typeof options.plot === 'string') await plotKind(register, kinds, options, world)
  world.stdout.write(options.json ? json(register, rows, kinds, now) : forecastTable(register, rows, kinds, accept))
  return EXIT.fine
}

function acceptDays(given: unknown): number | undefined {
  if (given === undefined) return undefined
  const days = plainNumber(String(given), '--accept-days', 1)
  if (!(days >= 1 && days <= 3650)) throw new Stop(EXIT.usage, `--accept-days takes 1 to 3650 days, not "${given}"`)
  return days
}

const proofOf = (opening: Opening, cell: CellHistory, accept: number | undefined) => ({
  acceptDays: accept ?? opening.settings.provenWithinDays,
  provenWithinDays: opening.settings.provenWithinDays,
  sendsPerCell: cell.modelMedian,
  sendsPerOpening: cell.sendsPerOpening ?? 1,
})

/** Spent first, then what must be tested or changed soonest, then the least sure. */
function byUrgency(a: Row, b: Row): number {
  const spent = (row: Row): number => (row.reading.doubts.includes('spent') ? 0 : 1)
  const low = (row: Row): number => (row.reading.doubts.includes('low') ? 0 : 1)
  const due = (row: Row): number => row.left?.changeBy ?? Number.POSITIVE_INFINITY
  const next = (row: Row): number => row.left?.next ?? 2
  return spent(a) - spent(b) || low(a) - low(b) || compare(due(a), due(b)) || next(a) - next(b)
}

const compare = (a: number, b: number): number => (a === b ? 0 : a - b)

async function plotKind(register: Register, kinds: readonly KindLives[], options: Given['options'], world: World) {
  const { sender, plot } = options
  if (typeof sender === 'string' && !Object.hasOwn(register.senders, sender)) {
    const names = Object.keys(register.senders).join(', ')
    throw new Stop(EXIT.usage, `--sender: the register has no sender "${sender}"; it has ${names}`)
  }
  const marks = new Set(
    register.openings.filter(o => sender === undefined || o.sender.name === sender).map(o => o.mark),
  )
  const kind = kinds.find(({ marks: own }) => own.some(mark => marks.has(mark)))
  if (!kind) throw new Stop(EXIT.input, 'there is no cell to plot: no opening on a cell that the model knows')
  await writeWhole(String(plot), survivalPlot(kind), world)
}

/** Survival of a new cell by forecast, by the prior alone, and by what was seen. */
export function survivalPlot(kind: KindLives): string {
  const { modelMedian, countKnown, lives } = kind
  const base = { modelMedian, countKnown, sends: 0, replaceBelow: 0.9 }
  const house = lifeLeft({ ...base, history: lives })
  const prior = lifeLeft({ ...base, history: [] })
  const end = Math.max(house.quantile(0.99), prior.quantile(0.97))
  const curve = (of: typeof house): [number, number][] =>
    Array.from({ length: 121 }, (_, i) => [(end * i) / 120, of.surviving((end * i) / 120)])
  const steps = survivalSteps(lives)
  const shareAt = (sends: number): number => steps.findLast(([at]) => at <= sends)?.[1] ?? 1
  const running = lives.flatMap(life => ('runningAt' in life ? [life.runningAt] : []))
  const deaths = lives.length - running.length
  const series: Series[] = [
    { kind: 'line', label: 'forecast for a new cell', points: curve(house) },
    {
      kind: 'line',
      label: kind.countKnown ? 'common practice alone' : 'assumptions alone',
      points: curve(prior),
      dashed: true,
    },
  ]
  if (deaths > 0) series.push({ kind: 'steps', label: `this house's ${deaths} dead cells`, points: steps })
  if (running.length > 0) {
    const label = `${running.length} that ran so far or were changed early`
    series.push({ kind: 'dots', label, points: running.map(sends => [sends, shareAt(sends)] as const) })
  }
  return plotSvg({
    title: `Cells that still work: ${kind.label}`,
    description: `Share of cells still working against sends. Half of new cells are expected to give ${Math.round(house.quantile(0.5))}.`,
    x: { label: 'sends', from: 0, to: end },
    y: { label: 'share still working', from: 0, to: 1 },
    series,
  })
}

function json(register: Register, rows: readonly Row[], kinds: readonly KindLives[], now: number): string {
  const value = {
    house: register.house,
    asOf: iso(now),
    openings: rows.map(({ opening, reading, left, proof, slowJoin, sentBefore }) => ({
      mark: opening.mark,
      name: opening.name,
      doubts: reading.doubts,
      openings: reading.openings,
      sends: reading.sends,
      countedSince: reading.countedSince,
      sentBefore,
      ...(left
        ? {
            left: left.left,
            next: left.next,
            untilLow: left.neverLow ? undefined : left.untilLow,
            neverLow: left.neverLow,
            countOn: left.countOn,
            changeBy: left.changeBy === undefined ? undefined : iso(left.changeBy),
            ifRunning: left.ifRunning,
            atLeast: left.atLeast,
            restsOn: left.restsOn,
          }
        : {}),
      slowJoin,
      proof,
    })),
    kinds: kinds.map(({ label, modelMedian, countKnown, atLeast, lives, scaled, marks }) => ({
      label,
      modelMedian,
      countKnown,
      ...(atLeast ? { atLeast } : {}),
      marks,
      lives,
      ...(scaled ? { scaled } : {}),
      fit: fitLifetimes(lives),
    })),
  }
  return jsonText(value)
}
