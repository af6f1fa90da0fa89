import { CELLS } from '../budget/cells.ts'
import { rounded, type Suit, suit, type Way } from '../budget/suit.ts'
import type { Range } from '../budget/types.ts'
import { budgetOf } from '../house.ts'
import { tame } from '../register/problems.ts'
import type { Opening } from '../register/types.ts'
import { openingsText } from './budget-text.ts'
import { CELL_CAUTION } from './cautions.ts'
import { readRegister } from './files.ts'
import { columns } from './forecast-table.ts'
import { jsonText } from './json.ts'
import { plainNumber } from './quantity.ts'
import { type CommandSpec, EXIT, type Exit, type Given, type World } from './world.ts'

export const suitCommand: CommandSpec = {
  name: 'suit',
  args: '<file>',
  summary: 'Say which openings a contact on a cell suits, how often its cell is changed, and what would do instead.',
  options: [
    { flags: '--changes <count>', text: 'cell changes a year that you accept', fallback: '2' },
    { flags: '--json', text: 'print the figures as JSON' },
  ],
  examples: ['sashtally suit examples/ropewalk.yaml', 'sashtally suit examples/ropewalk.yaml --changes 4'],
  run,
}

interface Row {
  readonly opening: Opening
  readonly found: Suit
}

async function run({ args: [path = ''], options }: Given, world: World): Promise<Exit> {
  const changesPerYear = plainNumber(String(options.changes ?? '2'), '--changes')
  const register = await readRegister(path, world)
  const rows = register.openings.map((opening): Row => {
    const sender = opening.sender.power === 'cell' ? budgetOf(opening) : undefined
    return { opening, found: suit(sender, { changesPerYear, bounceSeconds: opening.settings.bounceSeconds }) }
  })
  if (options.json) {
    const list = rows.map(({ opening, found }) => ({
      mark: opening.mark,
      name: opening.name,
      sender: opening.sender.name,
      ...(opening.settings.openingsPerYear === undefined ? {} : { openingsPerYear: opening.settings.openingsPerYear }),
      ...found,
    }))
    world.stdout.write(jsonText({ changesPerYear, openings: list }))
  } else world.stdout.write(suitText(register.house, rows, changesPerYear))
  return EXIT.fine
}

const URGENCY: readonly Suit['verdict'][] = ['does not suit', 'not known', 'suits']

function suitText(house: string, rows: readonly Row[], changesPerYear: number): string {
  const sorted = [...rows].sort((a, b) => {
    const byVerdict = URGENCY.indexOf(a.found.verdict) - URGENCY.indexOf(b.found.verdict)
    return byVerdict || (b.found.cellsPerYear?.p50 ?? 0) - (a.found.cellsPerYear?.p50 ?? 0)
  })
  const cells = sorted.map(({ opening, found }) => [
    opening.mark,
    opening.name,
    opening.sender.name,
    found.verdict,
    opening.settings.openingsPerYear === undefined ? '' : String(opening.settings.openingsPerYear),
    found.openings ? openingsText({ openings: found.openings, atLeast: found.atLeast ?? false }) : '',
    found.cellsPerYear ? cellsText(found.cellsPerYear, found.atLeast) : '',
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
    CELL_CAUTION,
  )
  return `${lines.join('\n')}\n`
}

/** What is told of each opening, those together of which the same is to be told. */
function groups(rows: readonly Row[]): Map<string, Opening[]> {
  const all = new Map<string, Opening[]>()
  for (const { opening, found } of rows) {
    if (found.verdict === 'suits' && (found.reasons.length === 0 || opening.sender.power === 'mains')) continue
    const ways = found.ways.map(way => `    ${wayText(way)}`)
    const head = ways.length ? ['  would do, with the cells a year:'] : []
    const told = [tame(found.reasons.join('; ')), ...head, ...ways].join('\n')
    all.set(told, [...(all.get(told) ?? []), opening])
  }
  return all
}

/** `0.4 (0.3 to 0.6)`; `at most 0.4` where the model is a lower bound of what a cell gives. */
const cellsText = ({ p05, p50, p95 }: Range, atLeast = false): string => {
  if (!Number.isFinite(p50)) return 'never starts'
  if (atLeast) return `at most ${rounded(p50)}${Number.isFinite(p95) ? ` (at worst ${rounded(p95)})` : ''}`
  return Number.isFinite(p95)
    ? `${rounded(p50)} (${rounded(p05)} to ${rounded(p95)})`
    : `${rounded(p50)} (${rounded(p05)} or more)`
}

const wayText = ({ text, cellsPerYear, atLeast }: Way): string =>
  cellsPerYear ? `${text}: ${cellsText(cellsPerYear, atLeast)}` : text
