import { demoCommand } from './begin/demo.ts'
import { initCommand } from './begin/init.ts'
import { overhearCommand } from './begin/overhear.ts'
import { proveCommand } from './bench/prove.ts'
import { roundCommand } from './bench/round.ts'
import { exportCommand } from './care/export.ts'
import { importCommand } from './care/import.ts'
import { mendCommand } from './care/mend.ts'
import { assignCommand } from './cells/assign.ts'
import { budgetCommand } from './cells/budget.ts'
import { forecastCommand } from './cells/forecast.ts'
import { partsCommand } from './cells/parts.ts'
import { suitCommand } from './cells/suit.ts'
import { completionCommand } from './help/completion.ts'
import { manualCommand } from './help/manual.ts'
import { checkCommand } from './register/check.ts'
import { asyncapiCommand } from './register/emit.ts'
import { accessCommand } from './register/emit-access.ts'
import { firmwareCommand } from './register/emit-firmware.ts'
import { hubCommand } from './register/emit-hub.ts'
import { labelsCommand, scheduleCommand } from './register/emit-labels.ts'
import { keepCommand } from './tally/keep.ts'
import { sayCommand } from './tally/say.ts'
import { serveCommand } from './tally/serve.ts'
import { tallyCommand } from './tally/tally.ts'
import type { CommandSpec } from './world.ts'

/** Commands that a person meets together. */
export interface CommandGroup {
  readonly heading: string
  readonly commands: readonly CommandSpec[]
}

/** Every command, in the order a person meets them. */
export const GROUPS: readonly CommandGroup[] = [
  { heading: 'To begin', commands: [demoCommand, initCommand, overhearCommand] },
  {
    heading: 'From the register',
    commands: [
      checkCommand,
      asyncapiCommand,
      hubCommand,
      firmwareCommand,
      accessCommand,
      labelsCommand,
      scheduleCommand,
    ],
  },
  { heading: 'At the bench and round the house', commands: [proveCommand, roundCommand] },
  { heading: 'The tally', commands: [keepCommand, serveCommand, sayCommand, tallyCommand] },
  {
    heading: 'Cells and parts',
    commands: [forecastCommand, budgetCommand, suitCommand, assignCommand, partsCommand],
  },
  { heading: 'Looking after the tally', commands: [exportCommand, importCommand, mendCommand] },
  { heading: 'Help', commands: [completionCommand, manualCommand] },
]
export const COMMANDS: readonly CommandSpec[] = GROUPS.flatMap(({ commands }) => commands)
