import { parseRegister } from '../../register/parse.ts'
import type { Opening, Register } from '../../register/types.ts'
import { firstOf } from '../../text/lists.ts'
import { nearest } from '../../text/nearest.ts'
import { formatProblem } from '../../text/problems.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { inputName, readInput } from './read-write.ts'

/**
 * Reads and parses the register from a file or from standard input; problems go to stderr, all at once.
 * @throws Stop exit 3 when it cannot be read, exit 1 when it has errors
 */
export async function readRegister(path: string, world: World): Promise<Register> {
  const text = await readInput(path, world)
  const name = inputName(path)
  const { register, problems } = parseRegister(text)
  for (const problem of problems) {
    if (register && problem.severity === 'warning') continue
    world.stderr.write(`${formatProblem(problem, text, name)}\n`)
  }
  if (register) return register
  const errors = problems.filter(problem => problem.severity === 'error').length
  throw new Stop(EXIT.input, `${name}: ${errors} ${errors === 1 ? 'error' : 'errors'}; nothing was made`)
}

/**
 * The opening that a person names by its mark, whatever the case: marks are unique without it.
 * @param where - the option that gave it; absent: an argument
 * @throws Stop exit 2 with the nearest mark, and what marks there are
 */
export function openingOf({ openings }: Register, given: string, where?: string): Opening {
  const found = openings.find(({ mark }) => mark.toLowerCase() === given.toLowerCase())
  if (found) return found
  const marks = openings.map(({ mark }) => mark)
  const near = nearest(given, marks)
  const known = firstOf(marks, 12)
  throw new Stop(
    EXIT.usage,
    `${where ? `${where}: ` : ''}the register has no opening ${JSON.stringify(given)}; it has ${known}${near ? `; did you mean ${near}?` : ''}`,
  )
}
