import type { Sender } from '../../register/types.ts'
import { BENCH_CAUTION, CELL_OUT_CAUTION, MAINS_CAUTION, mayBeCoin } from '../../text/cautions.ts'
import { EXIT, NoTerminal, Stop, type World } from '../world.ts'

/** What the person said of the lid: `unsaid` where the answer was neither yes nor no. */
export type Lid = 'tool' | 'no-tool' | 'unsaid'

/** Asks at the terminal, where prove must be run: somebody has to open the contact. */
async function ask(question: string, world: World): Promise<string> {
  try {
    return (await world.ask(question)).trim()
  } catch (error) {
    if (error instanceof NoTerminal)
      throw new Stop(EXIT.usage, 'prove asks you to open the contact: run it at a terminal')
    throw error
  }
}

const isYes = (answer: string): boolean => /^y/i.test(answer)
const isNo = (answer: string): boolean => /^n/i.test(answer)

/** Times that a question is asked before no answer is taken for no. */
const ASKED = 3

/**
 * What must be so before power comes on.
 * @returns the lid of its cell, where it may be a coin cell
 * @throws Stop exit 1 when the cell is still in, exit 2 without a terminal
 */
export async function askBefore(
  { power: feed, cell = '' }: Sender,
  power: 'bench' | 'cell',
  world: World,
): Promise<Lid | undefined> {
  if (feed === 'mains') world.stderr.write(`${MAINS_CAUTION}\n`)
  if (power === 'bench') world.stderr.write(`${BENCH_CAUTION}\n`)
  if (feed !== 'cell') return undefined
  if (power === 'bench') await mustBeOut(world)
  if (!mayBeCoin(cell)) return undefined
  const answer = await ask(
    'Does the lid of its cell need a tool, or two independent movements, to open? (yes or no) ',
    world,
  )
  return isYes(answer) ? 'tool' : isNo(answer) ? 'no-tool' : 'unsaid'
}

async function mustBeOut(world: World): Promise<void> {
  world.stderr.write(`${CELL_OUT_CAUTION}\n`)
  for (let asked = 0; asked < ASKED; asked++) {
    const answer = await ask('Is its cell out? (yes or no) ', world)
    if (isYes(answer)) return
    if (isNo(answer)) break
  }
  throw new Stop(
    EXIT.input,
    'take the cell out before the supply comes on, then prove it again; or prove it on its cell: --power cell',
  )
}

/** Waits for the key press at which somebody opens the contact. */
export const askToOpen = async (mark: string, nth: number, times: number, world: World): Promise<void> => {
  const last = times > 1 && nth === times ? ' (this one confirms the client id)' : ''
  await ask(`${nth} of ${times}: press Enter and open ${mark} in the same moment${last}. `, world)
}
