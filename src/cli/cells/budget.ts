import { shown } from '../../text/problems.ts'
import { writeTold } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { BudgetJson } from '../json/cells.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import { changesOf } from './budget-changes.ts'
import { type Comparison, compare } from './budget-comparison.ts'
import { budgetPlot } from './budget-plot.ts'
import { senderOf } from './budget-sender.ts'
import { answerText, budgetText } from './budget-text.ts'
import type * as commands from './commands.ts'

export async function run({ args: { file }, options }: Given<typeof commands.budget>, world: World): Promise<Exit> {
  const changes = changesOf(options)
  if (options.solve !== undefined && options.calibrate === undefined)
    throw new Stop(EXIT.usage, '--solve goes with --calibrate')
  const register = await readRegister(file, world)
  const { name, sender, used } = senderOf(register, options.sender, world.now())
  let comparison: Comparison
  try {
    comparison = compare(name, used, sender, changes, options.calibrate, options.solve)
  } catch (error) {
    if (error instanceof RangeError) throw new Stop(EXIT.input, `sender ${shown(name)}: ${error.message}`)
    throw error
  }
  if (options.plot !== undefined) await writeTold(options.plot, budgetPlot(comparison), world)
  world.stdout.write(options.json ? jsonText(jsonOf(comparison)) : budgetText(comparison))
  return EXIT.fine
}

function jsonOf(comparison: Comparison): BudgetJson {
  return { answer: answerText(comparison), ...comparison }
}
