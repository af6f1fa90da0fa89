import { assignCommand } from './assign.ts'
import { budgetCommand } from './budget.ts'
import { checkCommand } from './check.ts'
import { completionCommand } from './completion.ts'
import { demoCommand } from './demo.ts'
import { asyncapiCommand } from './emit.ts'
import { accessCommand } from './emit-access.ts'
import { firmwareCommand } from './emit-firmware.ts'
import { hubCommand } from './emit-hub.ts'
import { labelsCommand, scheduleCommand } from './emit-labels.ts'
import { exportCommand } from './export.ts'
import { forecastCommand } from './forecast.ts'
import { importCommand } from './import.ts'
import { initCommand } from './init.ts'
import { keepCommand } from './keep.ts'
import { manualCommand } from './manual.ts'
import { mendCommand } from './mend.ts'
import { overhearCommand } from './overhear.ts'
import { partsCommand } from './parts.ts'
import { proveCommand } from './prove.ts'
import { roundCommand } from './round.ts'
import { sayCommand } from './say.ts'
import { serveCommand } from './serve.ts'
import { suitCommand } from './suit.ts'
import { tallyCommand } from './tally.ts'
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
