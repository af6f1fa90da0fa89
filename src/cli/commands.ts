import { assignCommand } from './assign.ts'
import { budgetCommand } from './budget.ts'
import { checkCommand } from './check.ts'
import { demoCommand } from './demo.ts'
import { asyncapiCommand } from './emit.ts'
import { accessCommand } from './emit-access.ts'
import { firmwareCommand } from './emit-firmware.ts'
import { hubCommand } from './emit-hub.ts'
import { labelsCommand, scheduleCommand } from './emit-labels.ts'
import { forecastCommand } from './forecast.ts'
import { partsCommand } from './parts.ts'
import { suitCommand } from './suit.ts'
import type { CommandSpec } from './world.ts'

/** Every command, in the order a person meets them. */
export const COMMANDS: readonly CommandSpec[] = [
  demoCommand,
  checkCommand,
  asyncapiCommand,
  hubCommand,
  firmwareCommand,
  accessCommand,
  labelsCommand,
  scheduleCommand,
  forecastCommand,
  budgetCommand,
  suitCommand,
  assignCommand,
  partsCommand,
]
