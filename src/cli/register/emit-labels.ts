import { gridFault, LABEL_GRID, type LabelGrid } from '../../emit/paper/label-grid.ts'
import { labelPage, labelSheets } from '../../emit/paper/labels.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver, tellRemarks } from './emit-deliver.ts'

export async function run({ args: { file }, options }: Given<typeof commands.labels>, world: World): Promise<Exit> {
  const { paper, columns, rows, svg, out, check } = options
  const grid: LabelGrid = { ...LABEL_GRID, paper, columns, rows }
  const fault = gridFault(grid)
  if (fault) throw new Stop(EXIT.usage, fault)
  const register = await readRegister(file, world)
  const sheets = labelSheets(register, grid)
  const sheet = sheets[options.sheet - 1]
  if (svg && sheet === undefined) {
    throw new Stop(EXIT.usage, `there are ${sheets.length} sheets; --sheet ${options.sheet} is none of them`)
  }
  tellRemarks(['print at full size, without scaling to fit'], world)
  return deliver({ text: svg ? `${sheet}\n` : labelPage(register, grid), out, check }, world)
}
