import { buyEnough, MODULES_IN_PRACTICE, type PartsSeen } from '../../budget/advice/spares.ts'
import { type YearPlace, yearsCells } from '../../budget/advice/years-cells.ts'
import type { CellHistory } from '../../budget/lives/cell-history.ts'
import { newInTheCold } from '../../budget/lives/cold.ts'
import { drawsOf } from '../../budget/lives/draws.ts'
import { atWeight, type Learned, learnHouse } from '../../budget/lives/learn-house.ts'
import { rateOf } from '../../budget/lives/rate.ts'
import { historiesOf } from '../../house/cell-histories.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Opening, Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { own } from '../../text/own.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import { readRegister } from '../files/register.ts'
import type { PartsJson } from '../json/cells.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'

/** Reeds are glass and break when their leads are bent at the body (common practice); 1 in 20, weighing as twenty: assumption. */
const REEDS: PartsSeen = { good: 19, bad: 1 }

interface Part {
  readonly part: string
  readonly need: number
  readonly buy: number
  readonly restsOn: string
  readonly price?: number
}

export async function run({ args: { file }, options }: Given<typeof commands.parts>, world: World): Promise<Exit> {
  const { confidence } = options
  const register = await readRegister(file, world)
  const { ledger, bench } = await readTally(tallyPathOf(options), register, world, tally => ({
    ledger: tally.ledger(),
    bench: benchResults(tally.store.entries({ whats: ['module-fitted', 'proved', 'failed'] })),
  }))
  const parts = partsOf(register, ledger, bench, world.now(), confidence)
  const sum = parts.reduce((total, { buy, price }) => total + buy * (price ?? 0), 0)
  const unpriced = parts.filter(({ price }) => price === undefined).map(({ part }) => part)
  if (options.json) {
    world.stdout.write(
      jsonText({ confidence, parts, ...(register.prices ? { sum, unpriced } : {}) } satisfies PartsJson),
    )
    return EXIT.fine
  }
  const priced = register.prices !== undefined
  const rows = parts.map(({ part, need, buy, price }) => [
    part,
    String(need),
    String(buy),
    ...(priced ? [price === undefined ? '' : (buy * price).toFixed(2)] : []),
  ])
  const head = ['part', 'need', 'buy', ...(priced ? ['price'] : [])]
  world.stdout.write(
    `${[
      `${tame(register.house)}: parts that suffice with a chance of ${Math.round(confidence * 1000) / 10} % each`,
      '',
      ...columns([head, ...rows]),
      '',
      ...parts.map(({ part, restsOn }) => `${part}: ${restsOn}`),
      ...(priced ? ['', `together ${sum.toFixed(2)}${unpriced.length ? `, without ${unpriced.join(', ')}` : ''}`] : []),
      '',
      CELL_CAUTION,
      'Next: read sashtally manual fitting before you buy reeds; then sashtally emit firmware FILE makes what is flashed.',
    ].join('\n')}\n`,
  )
  return EXIT.fine
}

/** What to buy; one row a part. */
export function partsOf(
  register: Register,
  ledger: Ledger,
  bench: BenchResults,
  now: number,
  confidence: number,
): readonly Part[] {
  const count = register.openings.length
  const seen: PartsSeen = { good: MODULES_IN_PRACTICE.good + bench.good, bad: MODULES_IN_PRACTICE.bad + bench.bad }
  const tried = bench.good + bench.bad
  const price = (part: string) => {
    const found = register.prices && own(register.prices, part)
    return found === undefined ? {} : { price: found }
  }
  const practice = 'about 1 in 10 refuses (common practice, from few modules: it weighs as 20)'
  return [
    {
      part: 'module',
      need: count,
      buy: buyEnough(count, seen, confidence),
      restsOn: tried ? `${practice}, and ${bench.bad} of ${tried} at this bench` : practice,
      ...price('module'),
    },
    ...cells(register, ledger, now, confidence).map(part => ({ ...part, ...price(part.part) })),
    {
      part: 'reed',
      need: count,
      buy: buyEnough(count, REEDS, confidence),
      restsOn: 'about 1 in 20 breaks when it is bent (assumption)',
      ...price('reed'),
    },
    { part: 'magnet', need: count, buy: count, restsOn: 'one an opening', ...price('magnet') },
    { part: 'resistor', need: count, buy: count, restsOn: 'one pull-up an opening', ...price('resistor') },
  ]
}

/** Modules that worked at the bench, and that did not. */
interface BenchResults {
  readonly good: number
  readonly bad: number
}

/** Modules by their last result at the bench: one is meant by a mark until another is fitted there. */
function benchResults(entries: Iterable<Entry>): BenchResults {
  const worked = new Map<string, boolean>()
  const count = { good: 0, bad: 0 }
  const settle = (mark: string): void => {
    const last = worked.get(mark)
    if (last !== undefined) count[last ? 'good' : 'bad']++
    worked.delete(mark)
  }
  for (const { mark, what, text } of entries) {
    if (what === 'module-fitted') settle(mark)
    else if (text === 'bench') worked.set(mark, what === 'proved')
  }
  for (const mark of [...worked.keys()]) settle(mark)
  return count
}

/** One each, and those that fail in a year; what the house has taught of each kind is counted. */
function cells(register: Register, ledger: Ledger, now: number, confidence: number): Part[] {
  const histories = historiesOf(register, ledger, now)
  const learned = learnHouse(histories)
  const byMark = new Map(histories.map(cell => [cell.mark, cell]))
  const types = new Map<string, Opening[]>()
  for (const opening of register.openings) {
    const { cell } = opening.sender
    if (cell !== undefined) types.set(cell, [...(types.get(cell) ?? []), opening])
  }
  return [...types].map(([part, openings]) => {
    const cells = new Map<string, CellHistory[]>()
    const unknown: string[] = []
    for (const { mark } of openings) {
      const cell = byMark.get(mark)
      if (cell && rateOf(cell)) cells.set(cell.kind, [...(cells.get(cell.kind) ?? []), cell])
      else unknown.push(mark)
    }
    const kinds = [...cells].map(([kind, cells]) =>
      learned.get(kind)!.ways.map(way => ({
        chance: way.chance,
        draw: drawsOf(way.predictor.posterior),
        places: cells.map((cell): YearPlace => placeOf(atWeight(cell, way.weight), way)),
      })),
    )
    const year = yearsCells(kinds).enough(confidence)
    const without = unknown.length
      ? `; no change of a cell is counted, since its openings a year are not known or no cell starts its module, for ${unknown.join(', ')}`
      : ''
    return {
      part,
      need: openings.length,
      buy: openings.length + year,
      restsOn: kinds.length
        ? `one each, and ${year} for those that fail in a year: rates and lives as uncertain as forecast has them${without}`
        : `one each; how many fail in a year is not known${without}`,
    }
  })
}

const placeOf = (cell: CellHistory, { places }: Learned): YearPlace => ({
  opening: places.get(cell.mark)?.index,
  rate: rateOf(cell)!,
  modelMedian: cell.cold ? newInTheCold(cell.cold, cell.modelMedian) : cell.modelMedian,
  sendsPerOpening: cell.sendsPerOpening ?? 1,
})
