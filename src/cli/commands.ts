import { checkCommand } from './check.ts'
import { demoCommand } from './demo.ts'
import { asyncapiCommand } from './emit.ts'
import { hubCommand } from './emit-hub.ts'
import { forecastCommand } from './forecast.ts'
import type { CommandSpec } from './world.ts'

/** Every command, in the order a person meets them. */
export const COMMANDS: readonly CommandSpec[] = [
  demoCommand,
  checkCommand,
  asyncapiCommand,
  hubCommand,
  forecastCommand,
]
