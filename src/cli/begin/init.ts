import { dirname, isAbsolute, relative, resolve, sep } from 'node:path'
import { pathToFileURL } from 'node:url'
import { parseRegister } from '../../register/parse.ts'
import { formatProblem, tame } from '../../text/problems.ts'
import { inPackage } from '../files/in-package.ts'
import { refuseTaken, writeNew } from '../files/read-write.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, NoTerminal, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { askAnswers } from './init-ask.ts'
import { registerText } from './init-text.ts'

export async function run({ options: { out } }: Given<typeof commands.init>, world: World): Promise<Exit> {
  await refuseTaken(out, world)
  let answered = 0
  const ask = async (question: string): Promise<string> => {
    const answer = await world.ask(question)
    answered++
    return answer
  }
  const answers = await askAnswers(ask, line => world.stderr.write(`  ${line}\n`)).catch((error: unknown) => {
    if (!(error instanceof NoTerminal)) throw error
    throw answered
      ? new Stop(EXIT.input, 'the answers ended early: nothing was written')
      : new Stop(EXIT.usage, 'init asks questions: run it at a terminal, or copy examples/ropewalk.yaml')
  })
  const count = answers.sides.flatMap(({ floors }) => floors).flatMap(({ openings }) => openings).length
  const text = registerText(answers, schemaFor(resolve(world.cwd, out)))
  const { register, problems } = parseRegister(text)
  for (const problem of problems) world.stderr.write(`${formatProblem(problem, text, out)}\n\n`)
  if (!register) throw new Stop(EXIT.input, 'the answers do not make a register: nothing was written')
  await writeNew(out, text, world)
  world.stdout.write(
    `${tame(out)} is written, with ${count} ${count === 1 ? 'opening' : 'openings'}. Next: sashtally check ${tame(out)}\n`,
  )
  return EXIT.fine
}

/** Address of the register's JSON Schema in this package: beside the register or below it as a path, else as a URL. */
function schemaFor(register: string): string {
  const schema = inPackage('dist/register.schema.json')
  const path = relative(dirname(register), schema).replaceAll(sep, '/')
  return path.startsWith('..') || isAbsolute(path) || /\s/.test(path) ? pathToFileURL(schema).href : `./${path}`
}
