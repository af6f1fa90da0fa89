import {
  gridFault,
  LABEL_GRID,
  type LabelGrid,
  labelPage,
  labelSheets,
  PAPERS,
  type Paper,
} from '../../emit/paper/labels.ts'
import { scheduleCsv, scheduleHtml } from '../../emit/paper/schedule.ts'
import { EMITTERS } from '../../emit/table.ts'
import { readRegister } from '../shared/files.ts'
import { type CommandSpec, EXIT, type Given, Stop } from '../world.ts'
import { DELIVERY_OPTIONS, deliver, tellRemarks } from './emit-deliver.ts'

export const labelsCommand: CommandSpec = {
  name: 'emit labels',
  args: '<file>',
  summary: `Make ${EMITTERS.labels.makes}.`,
  options: [
    ...DELIVERY_OPTIONS,
    { flags: '--paper <size>', text: 'sheet to print on', choices: Object.keys(PAPERS), fallback: LABEL_GRID.paper },
    { flags: '--columns <number>', text: 'labels across', fallback: String(LABEL_GRID.columns) },
    { flags: '--rows <number>', text: 'labels down', fallback: String(LABEL_GRID.rows) },
    { flags: '--svg', text: 'one sheet as SVG instead of a page; see --sheet' },
    { flags: '--sheet <number>', text: 'which sheet --svg makes, from 1', fallback: '1' },
  ],
  examples: [
    'sashtally emit labels examples/ropewalk.yaml --out labels.html',
    'sashtally emit labels examples/ropewalk.yaml --paper letter --columns 2 --rows 6 --out labels.html',
  ],
  async run({ args: [path = ''], options }: Given, world) {
    const grid: LabelGrid = {
      ...LABEL_GRID,
      paper: options.paper as Paper,
      columns: Number(options.columns),
      rows: Number(options.rows),
    }
    const fault = gridFault(grid)
    if (fault) throw new Stop(EXIT.usage, fault)
    const register = await readRegister(path, world)
    const sheets = labelSheets(register, grid)
    const sheet = sheets[Number(options.sheet) - 1]
    if (options.svg && sheet === undefined) {
      throw new Stop(EXIT.usage, `there are ${sheets.length} sheets; --sheet ${options.sheet} is none of them`)
    }
    tellRemarks(['print at full size, without scaling to fit'], world)
    const text = options.svg ? `${sheet}\n` : labelPage(register, grid)
    return deliver({ text, out: options.out as string | undefined, check: options.check === true }, world)
  },
}

export const scheduleCommand: CommandSpec = {
  name: 'emit schedule',
  args: '<file>',
  summary: `Make ${EMITTERS.schedule.makes}.`,
  options: [...DELIVERY_OPTIONS, { flags: '--csv', text: 'comma-separated values (RFC 4180) instead of a page' }],
  examples: [
    'sashtally emit schedule examples/ropewalk.yaml --out schedule.html',
    'sashtally emit schedule examples/ropewalk.yaml --csv --out schedule.csv',
  ],
  async run({ args: [path = ''], options }, world) {
    const register = await readRegister(path, world)
    const text = options.csv ? scheduleCsv(register) : scheduleHtml(register)
    return deliver({ text, out: options.out as string | undefined, check: options.check === true }, world)
  },
}
