import { checkCommand } from './check.ts'
import { asyncapiCommand } from './emit.ts'
import { hubCommand } from './emit-hub.ts'
import type { CommandSpec } from './world.ts'

/** Every command, in the order a person meets them. */
export const COMMANDS: readonly CommandSpec[] = [checkCommand, asyncapiCommand, hubCommand]
