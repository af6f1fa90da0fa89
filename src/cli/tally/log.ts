import { LOG_LEVELS, type TellOfHouses } from '../../keeper/log-codes.ts'
import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import type { LogLine } from '../json/log.ts'
import { Stop, type World } from '../world.ts'
import type { LogForm } from './log-forms.ts'

/**
 * Runs what keeps a log, each line with its time. In JSON a line is one object, and why the work ended is the last one;
 * as text that and what stops the keeper stand on standard error.
 */
export async function withLog(form: LogForm, world: World, work: (tell: TellOfHouses) => Promise<void>): Promise<void> {
  const tell = form === 'json' ? jsonTeller(world) : textTeller(world)
  try {
    await work(tell)
  } catch (error) {
    if (form === 'text' || !(error instanceof Stop) || error.message === '') throw error
    tell(error.message, 'ended')
    throw new Stop(error.exit, '')
  }
}

const textTeller =
  (world: World): TellOfHouses =>
  (text, code, house) => {
    const line = tame(house === undefined ? text : `${house}: ${text}`)
    if (code === 'silent') world.stderr.write(`${line}\n`)
    else world.stdout.write(`${iso(world.now())}  ${line}\n`)
  }

const jsonTeller =
  (world: World): TellOfHouses =>
  (text, code, house) => {
    const about = { time: iso(world.now()), level: LOG_LEVELS[code], code }
    const line: LogLine = { ...about, ...(house === undefined ? {} : { house: tame(house) }), text: tame(text) }
    world.stdout.write(`${JSON.stringify(line)}\n`)
  }
