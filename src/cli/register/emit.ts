import type { Emitted } from '../../emit/emitted.ts'
import { EMITTERS } from '../../emit/table.ts'
import type { Register } from '../../register/types.ts'
import { readRegister, readText } from '../shared/files.ts'
import { type CommandSpec, EXIT, type Given, Stop, type World } from '../world.ts'
import { DELIVERY_OPTIONS, deliver, guardInputs, tellProblems, tellRemarks } from './emit-deliver.ts'

/** The command of an emitter that needs nothing but the register and gives one text. */
export function textCommand(
  name: string,
  { makes, emit }: { makes: string; emit(register: Register): Emitted },
  example: string,
): CommandSpec {
  return {
    name: `emit ${name}`,
    args: '<file>',
    summary: `Make ${makes}.`,
    options: DELIVERY_OPTIONS,
    examples: [example],
    async run({ args: [path = ''], options }: Given, world: World) {
      const out = options.out as string | undefined
      if (options.check && out === undefined)
        throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
      guardInputs(out, [path], world)
      const register = await readRegister(path, world)
      const { text, problems, remarks } = emit(register)
      tellRemarks(remarks, world)
      if (text === undefined) {
        tellProblems(problems, await readText(path, world), path, world)
        return EXIT.input
      }
      return deliver({ text, out, check: options.check === true }, world)
    },
  }
}

export const asyncapiCommand = textCommand(
  'asyncapi',
  EMITTERS.asyncapi,
  'sashtally emit asyncapi examples/ropewalk.yaml --out contacts.asyncapi.yaml',
)
