import type { KeeperNote, KeeperProblem } from '../../protocol/keeper-note.ts'
import type { Key } from './en.ts'
import { named, type TellContext, tellProblem } from './tell.ts'

/** What a keeper says of itself as far as it concerns the family: what only its builder can mend stands on the key. */
export function tellKeeper(
  { problem, problems }: Pick<KeeperNote, 'problem' | 'problems'>,
  context: TellContext,
): readonly string[] {
  // A keeper without codes has sentences alone.
  if (!problems) return problem ? [context.words.say('keeperSays', { problem: tellProblem(problem, context) })] : []
  return [...new Set(problems.flatMap(each => tellOne(each, context) ?? []))]
}

const BARE: { readonly [code in KeeperProblem['code']]?: Key } = {
  'not-kept': 'keeperNotKept',
  silent: 'keeperMute',
  disk: 'keeperDisk',
  store: 'keeperStore',
  forecast: 'keeperForecast',
  register: 'registerKept',
}

function tellOne(
  { code, marks = [], from, to, seconds }: KeeperProblem,
  { words, when, now }: TellContext,
): string | undefined {
  const at = (time: string) => when.at(Date.parse(time), now)
  switch (code) {
    case 'deaf':
    case 'boots':
      return marks.length === 0
        ? words.say('keeperMissed')
        : words.say(code === 'deaf' ? 'keeperDeaf' : 'keeperBoots', { marks: named(marks) })
    case 'session':
    case 'queue':
    case 'older':
    case 'seal':
      return from && to ? words.say('keeperMissedFrom', { from: at(from), to: at(to) }) : words.say('keeperMissed')
    case 'clock':
      return seconds === undefined
        ? words.say('keeperClockWrong')
        : words.say('keeperClockSet', { span: when.span(Math.abs(seconds) * 1000) })
    default: {
      const key = BARE[code]
      return key && words.say(key)
    }
  }
}
