import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { parseRegister } from '../register/parse.ts'
import { formatProblem, tame } from '../register/problems.ts'
import type { Kind } from '../register/types.ts'
import { writeWhole } from './files.ts'
import { type Answers, type FloorAnswer, faultOf, registerText } from './init-text.ts'
import { type CommandSpec, EXIT, type Exit, type Given, NoTerminal, Stop, type World } from './world.ts'

export const initCommand: CommandSpec = {
  name: 'init',
  args: '',
  summary: 'Ask a few questions and write a commented register; a file that is there is never written over.',
  options: [{ flags: '-o, --out <file>', text: 'the register to write', fallback: 'house.yaml' }],
  examples: ['sashtally init --out house.yaml'],
  run,
}

async function run({ options }: Given, world: World): Promise<Exit> {
  const out = String(options.out)
  if (existsSync(resolve(world.cwd, out)))
    throw new Stop(EXIT.input, `${out} is there already: name another file with --out`)
  let answers: Answers
  try {
    answers = await askAll(world)
  } catch (error) {
    if (error instanceof NoTerminal)
      throw new Stop(EXIT.usage, 'init asks questions: run it at a terminal, or copy examples/ropewalk.yaml')
    throw error
  }
  const text = registerText(answers)
  const { register, problems } = parseRegister(text)
  for (const problem of problems) world.stderr.write(`${formatProblem(problem, text, out)}\n\n`)
  if (!register) throw new Stop(EXIT.input, 'the answers do not make a register: nothing was written')
  await writeWhole(out, text, world)
  world.stdout.write(
    `${tame(out)} is written, with ${register.openings.length} openings. Next: sashtally check ${tame(out)}\n`,
  )
  return EXIT.fine
}

async function askAll(world: World): Promise<Answers> {
  const ask = async (
    question: string,
    fallback: string,
    fault: (value: string) => string | undefined,
  ): Promise<string> => {
    for (;;) {
      const answer = (await world.ask(`${question}${fallback ? ` [${fallback}]` : ''}: `)).trim() || fallback
      const wrong = fault(answer)
      if (!wrong) return answer
      world.stderr.write(`  ${wrong}\n`)
    }
  }
  const list = (value: string): string[] =>
    value
      .split(',')
      .map(part => part.trim())
      .filter(Boolean)
  const names = (value: string): string | undefined =>
    list(value)
      .map(faultOf.name)
      .find(found => found)
  const house = await ask('Name of the house', '', faultOf.name)
  const timezone = await ask('Time zone', Intl.DateTimeFormat().resolvedOptions().timeZone, faultOf.timezone)
  const broker = await ask('Your MQTT broker', 'mqtt://broker.lan', faultOf.broker)
  const parent = await ask('Topics begin with', 'house', faultOf.parent)
  const sideNames = list(
    await ask('Sides in walking order, with commas', 'south, east, north, west', value =>
      new Set(list(value)).size !== list(value).length || list(value).length === 0
        ? 'name each side once'
        : names(value),
    ),
  )
  const floors = Number(await ask('Floors, ground floor included', '2', faultOf.floors))
  const sides: { name: string; floors: FloorAnswer[] }[] = []
  for (const name of sideNames) {
    const side: FloorAnswer[] = []
    for (let floor = 0; floor < floors; floor++) {
      const where = `${name}, ${floor === 0 ? 'ground floor' : `floor ${floor}`}`
      const rooms = list(
        await ask(`${where}: rooms with a window, left to right, with commas (none: Enter)`, '', names),
      )
      if (rooms.length) {
        const kind = await ask('  their kind', 'window', faultOf.kind)
        side.push({ floor, kind: kind as Kind, rooms })
      }
      const doors = floor === 0 ? list(await ask(`${where}: doors (none: Enter)`, '', names)) : []
      if (doors.length) side.push({ floor, kind: 'door', rooms: doors })
    }
    sides.push({ name, floors: side })
  }
  const doors = sides.some(side => side.floors.some(({ kind }) => kind === 'door'))
  const both =
    doors &&
    /^y/i.test(await ask('Do the doors run on mains and report both edges? (yes or no)', 'no', () => undefined))
  return { house, timezone, broker, parent, sides, both }
}
