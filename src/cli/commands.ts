import * as begin from './begin/commands.ts'
import * as bench from './bench/commands.ts'
import * as care from './care/commands.ts'
import * as cells from './cells/commands.ts'
import * as help from './help/commands.ts'
import { type Command, type CommandGroup, command } from './program/command.ts'
import * as register from './register/commands.ts'
import * as tally from './tally/commands.ts'

/** Every command, in the order a person meets them; the code of each is loaded when it is asked for. */
export const GROUPS: readonly CommandGroup[] = [
  {
    heading: 'To begin',
    commands: [
      command(begin.demo, () => import('./begin/demo.ts')),
      command(begin.init, () => import('./begin/init.ts')),
      command(begin.overhear, () => import('./begin/overhear.ts')),
    ],
  },
  {
    heading: 'From the register',
    commands: [
      command(register.check, () => import('./register/check.ts')),
      command(register.asyncapi, () => import('./register/emit-asyncapi.ts')),
      command(register.calendar, () => import('./register/emit-calendar.ts')),
      command(register.things, () => import('./register/emit-things.ts')),
      command(register.schema, () => import('./register/emit-schema.ts')),
      command(register.hub, () => import('./register/emit-hub.ts')),
      command(register.firmware, () => import('./register/emit-firmware.ts')),
      command(register.broker, () => import('./register/emit-broker.ts')),
      command(register.access, () => import('./register/emit-access.ts')),
      command(register.labels, () => import('./register/emit-labels.ts')),
      command(register.schedule, () => import('./register/emit-schedule.ts')),
    ],
  },
  {
    heading: 'At the bench and round the house',
    commands: [
      command(bench.prove, () => import('./bench/prove.ts')),
      command(bench.rehearse, () => import('./bench/rehearse.ts')),
      command(bench.round, () => import('./bench/round.ts')),
    ],
  },
  {
    heading: 'The tally',
    commands: [
      command(tally.keep, () => import('./tally/keep.ts')),
      command(tally.serve, () => import('./tally/serve.ts')),
      command(tally.say, () => import('./tally/say.ts')),
      command(tally.tally, () => import('./tally/tally.ts')),
    ],
  },
  {
    heading: 'Cells and parts',
    commands: [
      command(cells.forecast, () => import('./cells/forecast.ts')),
      command(cells.budget, () => import('./cells/budget.ts')),
      command(cells.suit, () => import('./cells/suit.ts')),
      command(cells.assign, () => import('./cells/assign.ts')),
      command(cells.parts, () => import('./cells/parts.ts')),
    ],
  },
  {
    heading: 'Looking after the tally',
    commands: [
      command(care.exporting, () => import('./care/export.ts')),
      command(care.importing, () => import('./care/import.ts')),
      command(care.mend, () => import('./care/mend.ts')),
    ],
  },
  {
    heading: 'Help',
    commands: [
      command(help.completion, () => import('./help/completion.ts')),
      command(help.manual, () => import('./help/manual.ts')),
    ],
  },
]
export const COMMANDS: readonly Command[] = GROUPS.flatMap(({ commands }) => commands)
