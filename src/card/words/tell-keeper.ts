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

/** All that a keeper says of itself: its own sentences are English, and elsewhere its codes are put into words. */
export function tellBuilder(note: Pick<KeeperNote, 'problem' | 'problems'>, context: TellContext): readonly string[] {
  const { problem, problems = [] } = note
  const { words } = context
  if (!problem || problems.length === 0 || words.lang.startsWith('en')) {
    return problem ? [words.say('keeperSays', { problem: tellProblem(problem, context) })] : []
  }
  const codes = [...new Set(problems.filter(each => tellOne(each, context) === undefined).map(({ code }) => code))]
  const others = codes.length > 0 ? [words.say('keeperBuilder', { codes: codes.join(', ') })] : []
  return [...tellKeeper(note, context), ...others]
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
      if (!from || !to) return words.say('keeperMissed')
      if (at(from) !== at(to)) return words.say('keeperMissedFrom', { from: at(from), to: at(to) })
      return words.say('keeperMissedAt', { at: at(from), span: when.span(Date.parse(to) - Date.parse(from)) })
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
