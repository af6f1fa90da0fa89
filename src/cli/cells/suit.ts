import { type CellsPerYear, rounded, type Suit, suit, type Way } from '../../budget/advice/suit.ts'
import { CELLS, SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { DEFAULTS } from '../../budget/circuit/sender.ts'
import { meanRate, rateOf } from '../../budget/lives/rate.ts'
import { historiesOf } from '../../house/cell-histories.ts'
import { budgetOf, isCold } from '../../house/model.ts'
import type { Opening, Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import { iso } from '../../text/time.ts'
import { inputName } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { SuitJson } from '../json/cells.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { type TallyPath, tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import { openingsText } from './budget-text.ts'
import type * as commands from './commands.ts'

interface OpeningSuit {
  readonly opening: Opening
  /** Openings a year, and whether a tally has counted them. */
  readonly openingsPerYear?: number | undefined
  readonly isCounted: boolean
  readonly found: Suit
}

export async function run({ args: { file }, options }: Given<typeof commands.suit>, world: World): Promise<Exit> {
  const { changes: changesPerYear } = options
  const register = await readRegister(file, world)
  const counted = await countedRates(tallyPathOf(options), register, world)
  const rows = register.openings.map((opening): OpeningSuit => {
    const rate = counted.get(opening.mark)
    const openingsPerYear = rate ?? opening.settings.openingsPerYear
    const sender =
      opening.sender.power === 'cell'
        ? { ...budgetOf(opening), openingsPerYear, fittedAt: iso(world.now()) }
        : undefined
    const found = suit(sender, { changesPerYear, bounceSeconds: opening.settings.bounceSeconds })
    return { opening, openingsPerYear, isCounted: rate !== undefined, found }
  })
  if (options.json) {
    const list = rows.map(({ opening, openingsPerYear, isCounted, found }) => ({
      mark: opening.mark,
      name: opening.name,
      sender: opening.sender.name,
      ...(openingsPerYear === undefined ? {} : { openingsPerYear }),
      ...(isCounted ? { isCounted } : {}),
      ...found,
    }))
    world.stdout.write(jsonText({ changesPerYear, openings: list } satisfies SuitJson))
  } else world.stdout.write(suitText(inputName(file), register.house, rows, changesPerYear))
  return EXIT.fine
}

const NEXT = 'Next: sashtally parts FILE says how much to buy; sashtally budget FILE shows what a change brings.'

/** Openings a year of each opening of which a tally has counted some time. */
async function countedRates(
  at: TallyPath | undefined,
  register: Register,
  world: World,
): Promise<ReadonlyMap<string, number>> {
  if (at === undefined) return new Map()
  const { readTally } = await import('../store/read-tally.ts')
  const ledger = await readTally(at, register, world, tally => tally.ledger())
  return new Map(
    historiesOf(register, ledger, world.now()).flatMap(history => {
      const rate = history.observedDays > 0 ? rateOf(history) : undefined
      return rate ? [[history.mark, Math.round(meanRate(rate) * 10) / 10] as const] : []
    }),
  )
}

const URGENCY: readonly Suit['verdict'][] = ['does not suit', 'not known', 'suits']

function suitText(file: string, house: string, rows: readonly OpeningSuit[], changesPerYear: number): string {
  const sorted = [...rows].sort((a, b) => {
    const byVerdict = URGENCY.indexOf(a.found.verdict) - URGENCY.indexOf(b.found.verdict)
    return byVerdict || cellsIn(b.found) - cellsIn(a.found) || 0
  })
  const cells = sorted.map(({ opening, openingsPerYear, isCounted, found }) => [
    opening.mark,
    opening.name,
    opening.sender.name,
    found.verdict,
    openingsPerYear === undefined ? '' : `${openingsPerYear}${isCounted ? ' *' : ''}`,
    found.openings ? openingsText({ openings: found.openings, atLeast: found.atLeast ?? false }) : '',
    cellsColumn(found),
  ])
  const lines = [
    `${tame(house)}: whether each contact suits its opening, at ${changesPerYear} cell ${changesPerYear === 1 ? 'change' : 'changes'} a year`,
    '',
    ...columns([
      ['mark', 'name', 'sender', 'verdict', 'openings a year', 'openings of a cell', 'cells a year'],
      ...cells,
    ]),
  ]
  for (const [told, openings] of groups(sorted)) {
    const [only] = openings
    const names =
      openings.length === 1 ? `${only!.mark} ${tame(only!.name)}` : openings.map(({ mark }) => mark).join(', ')
    lines.push('', `${names}: ${told}`)
  }
  const named = CELLS.filter(
    ({ name, note }) => note && rows.some(({ found }) => found.ways.some(({ text }) => text.includes(`cell ${name}`))),
  )
  if (named.length) lines.push('', ...named.map(({ name, note }) => `Careful with ${name}: ${note}.`))
  lines.push(
    '',
    'Cells a year: middle value of the model and its 90 % range. The command budget says what they rest on.',
    ...(rows.some(({ isCounted }) => isCounted)
      ? ['* as the tally has counted it, with the guess of the register as two openings.']
      : []),
    ...coldLines(rows),
    ...rateLines(file, rows),
    CELL_CAUTION,
    NEXT,
  )
  return `${lines.join('\n')}\n`
}

/** Where a guess of how often an opening is opened is written. */
function rateLines(file: string, rows: readonly OpeningSuit[]): string[] {
  const unknown = rows.find(
    ({ opening, openingsPerYear }) => opening.sender.power === 'cell' && openingsPerYear === undefined,
  )
  if (!unknown) return []
  const line = `openingsPerYear: ${DEFAULTS.openingsPerYear}`
  return [
    `How often they are opened: write a guess into ${tame(file)}, for the whole house as a line of its own,`,
    `  ${line}`,
    `or for one opening inside its braces,`,
    `  - { mark: ${unknown.opening.mark}, ..., ${line} }`,
    `(${DEFAULTS.openingsPerYear} a year is about every third day); or give --data or --tally of a keeper that has counted.`,
  ]
}

/** What was assumed where it gets cold. */
function coldLines(rows: readonly OpeningSuit[]): string[] {
  const onCells = rows.flatMap(({ opening: { sender, settings } }) => (sender.power === 'cell' ? [settings] : []))
  const isSeason = onCells.some(({ seasonCelsius }) => seasonCelsius)
  return [
    ...(onCells.some(isCold)
      ? ['The cold counts by our own factors, which have no source: the range is wider for it.']
      : []),
    ...(isSeason ? ['Where it follows the season, cells are taken to be fitted today.'] : []),
  ]
}

/** What is told of each opening, those together of which the same is to be told. */
function groups(rows: readonly OpeningSuit[]): Map<string, Opening[]> {
  const all = new Map<string, Opening[]>()
  for (const { opening, found } of rows) {
    const isFine = found.verdict === 'suits' && found.reasons.length + found.warnings.length === 0
    if (isFine || opening.sender.power === 'mains') continue
    const ways = found.ways.map(way => `    ${wayText(way)}`)
    const head = ways.length ? ['  would do, with the cells a year:'] : []
    const [first = '', ...more] = [
      ...(found.reasons.length ? [found.reasons.join('; ')] : []),
      ...found.warnings.map(warning => `careful: ${warning}`),
    ].map(tame)
    const told = [first, ...more.map(line => `  ${line}`), ...head, ...ways].join('\n')
    all.set(told, [...(all.get(told) ?? []), opening])
  }
  return all
}

/** Cells a year for the order; without an opening of a new cell beyond all others. */
const cellsIn = ({ cellsPerYear, openings }: Suit): number =>
  cellsPerYear?.p50 ?? (openings?.p50 === 0 ? Number.POSITIVE_INFINITY : 0)

function cellsColumn({ cellsPerYear, openings, endedBy }: Suit): string {
  if (cellsPerYear) return cellsText(cellsPerYear)
  if (openings?.p50 !== 0) return ''
  return endedBy === 'never-starts' ? 'never starts' : 'gives none'
}

/** `0.4 (0.3 to 0.6)`; `at most 0.4` where the model is a lower bound of what a cell gives. */
function cellsText({ p05, p50, p95 }: CellsPerYear): string {
  if (p95 === 1 / SHELF_YEARS) return `${rounded(p95)}, by its shelf life`
  if (p05 === undefined) return `at most ${rounded(p50)} (at worst ${rounded(p95)})`
  return `${rounded(p50)} (${rounded(p05)} to ${rounded(p95)})`
}

const wayText = ({ text, cellsPerYear }: Way): string => (cellsPerYear ? `${text}: ${cellsText(cellsPerYear)}` : text)
