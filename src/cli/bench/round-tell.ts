import { type Round, reportRound, type Step } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Opening, Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import type { RoundJson } from '../json/bench.ts'
import { jsonText } from '../json/json-text.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import { quoted } from './prove-seen.ts'

/** Where to go next. */
export const stepText = ({ mark, name, at }: Step): string =>
  `next: ${mark}  ${name}${at ? `, ${at.side}, floor ${at.floor}` : ''}`

/** A live word that is none of the register's, in a sentence; undefined where the word is fine. */
export function wrongWord(
  { openings }: Register,
  topic: string,
  text: string,
  entry: Pick<Entry, 'what' | 'mark'> | undefined,
): string | undefined {
  if (entry?.what === 'odd') {
    const { words } = openings.find(({ mark }) => mark === entry.mark)!.sender
    return `${entry.mark} says ${quoted(text)}, and the register knows ${quoted(words.opened)}: it holds an older header, or the register has a typing mistake`
  }
  if (entry || !openings.some(({ sender }) => isWordOf(sender, text))) return undefined
  return `${quoted(text)} came on ${quoted(topic)}, which is no topic of the register: a contact holds another header`
}

const isWordOf = ({ words }: Opening['sender'], text: string): boolean => text === words.opened || text === words.closed

/** What to do about contacts that were not heard. */
function afterMissing(missing: readonly Step[], file: string): string {
  const cell = missing.find(({ power }) => power === 'cell')?.mark
  const replaced = cell && ` tell it with \`sashtally say ${file} ${cell} failed\`, change the cell,`
  return `What the walk passed by reads untested until it is heard. Open it once more; where no word comes again,${replaced ?? ' look at its supply'} and walk again.\n`
}

export function tellReport(round: Round, file: string, json: boolean, world: World): Exit {
  const { heard, leftOut, missing, notReached, done } = reportRound(round)
  if (json)
    world.stdout.write(
      jsonText({ startedAt: round.startedAt, done, heard, leftOut, missing, notReached } satisfies RoundJson),
    )
  else {
    const list = (steps: readonly Step[]): string =>
      steps.map(({ mark, name }) => `  ${mark}  ${tame(name)}\n`).join('')
    world.stdout.write(`heard ${heard.length}, left out ${leftOut.length}, not heard ${missing.length}\n`)
    const passedBy = missing.filter(step => !notReached.includes(step))
    if (passedBy.length)
      world.stdout.write(`Passed by and not heard; look at their cells, reeds and magnets:\n${list(passedBy)}`)
    if (notReached.length)
      world.stdout.write(
        `Not heard before the walk ended; if you did open one of them, look at it too:\n${list(notReached)}`,
      )
    if (missing.length) world.stdout.write(afterMissing(missing, file))
  }
  return done ? EXIT.fine : EXIT.input
}
