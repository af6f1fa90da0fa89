import type { Emitted } from '../../emit/emitted.ts'
import type { Register } from '../../register/types.ts'
import { inputName, readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import { type Delivery, deliver, guardInputs, tellProblems, tellRemarks } from './emit-deliver.ts'

/** Runs an emitter that needs nothing but the register and gives one text. */
export async function emitText(
  emit: (register: Register) => Emitted,
  file: string,
  { out, check }: Pick<Delivery, 'out' | 'check'>,
  world: World,
): Promise<Exit> {
  if (check && out === undefined) throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
  guardInputs(out, [file], world)
  const register = await readRegister(file, world)
  const { text, problems, remarks } = emit(register)
  tellRemarks(remarks, world)
  if (text === undefined) {
    tellProblems(problems, await readInput(file, world), inputName(file), world)
    return EXIT.input
  }
  return deliver({ text, out, check }, world)
}
