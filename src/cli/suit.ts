import { CELLS } from '../budget/cells.ts'
import { rounded, type Suit, suit, type Way } from '../budget/suit.ts'
import type { Range } from '../budget/types.ts'
import { budgetOf } from '../house.ts'
import { tame } from '../register/problems.ts'
import type { Opening } from '../register/types.ts'
import { openingsText } from './budget-text.ts'
import { readRegister } from './files.ts'
import { columns } from './forecast-table.ts'
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
    world.stdout.write(`${JSON.stringify({ changesPerYear, openings: list }, null, 2)}\n`)
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
    found.cellsPerYear ? cellsText(found.cellsPerYear) : '',
  ])
  const lines = [
    `${tame(house)}: whether each contact suits its opening, at ${changesPerYear} cell ${changesPerYear === 1 ? 'change' : 'changes'} a year`,
    '',
    ...columns([
      ['mark', 'name', 'sender', 'verdict', 'openings a year', 'openings of a cell', 'cells a year'],
      ...cells,
    ]),
  ]
  for (const { opening, found } of sorted) {
    if (found.verdict === 'suits' && Number.isFinite(found.cellsPerYear?.p95 ?? 0)) continue
    lines.push('', `${opening.mark} ${tame(opening.name)}: ${tame(found.reasons.join('; '))}`)
    if (found.ways.length) lines.push(`  would do: ${found.ways.map(wayText).join(', ')}`)
  }
  const named = CELLS.filter(
    ({ name, note }) => note && rows.some(({ found }) => found.ways.some(({ text }) => text.includes(`cell ${name}`))),
  )
  if (named.length) lines.push('', ...named.map(({ name, note }) => `Careful with ${name}: ${note}.`))
  lines.push(
    '',
    'Cells a year: middle value of the model and its 90 % range; in brackets, cells a year with that change.',
    'The command budget says what they rest on.',
  )
  return `${lines.join('\n')}\n`
}

const cellsText = ({ p05, p50, p95 }: Range): string => {
  if (!Number.isFinite(p50)) return 'never starts'
  return Number.isFinite(p95)
    ? `${rounded(p50)} (${rounded(p05)} to ${rounded(p95)})`
    : `${rounded(p50)} (${rounded(p05)} or more)`
}

const wayText = ({ text, cellsPerYear }: Way): string =>
  cellsPerYear ? `${text} (${rounded(cellsPerYear.p50)})` : text
