import { newId } from '../../keeper/id.ts'
import type { Credentials } from '../../link/node/links.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { linkTo } from '../broker/link.ts'
import { keeperIsThere } from '../broker/listening.ts'
import { appendTally } from '../store/append-tally.ts'
import type { TallyPath } from '../store/tally-path.ts'
import { sayOver } from '../tally/say-over.ts'
import { Stop, type World } from '../world.ts'
import type { ProveRules, Verdict } from './prove-seen.ts'
import { middle } from './prove-since.ts'
import type { Watch } from './prove-watch.ts'

export interface Keeping {
  readonly url: string
  readonly account: Credentials
  /** Where the result goes; undefined: to a keeper, if one runs. */
  readonly at: TallyPath | undefined
  readonly register: Register
}

/** What became of a result: a sentence, whether it was to be kept and is not, and what stopped it. */
export interface KeptResult {
  readonly says: string
  readonly isLost: boolean
  readonly stopped?: Stop
}

/** Keeps the result: with a running keeper it is said, else it stands in the tally with the words that were heard. */
export async function keepResult(
  verdict: Verdict,
  watch: Watch,
  rules: ProveRules,
  keeping: Keeping,
  world: World,
): Promise<KeptResult> {
  if (!watch.signs.isHeard) {
    const bench = rules.power === 'bench' ? ' --note bench' : ''
    return {
      says: `kept nowhere: not one word of the house was heard, so it may be the account and not the contact. When you know that it is the contact: sashtally say FILE ${rules.mark} failed${bench}`,
      isLost: false,
    }
  }
  try {
    return { isLost: false, ...(await keep(verdict, watch, rules, keeping, world)) }
  } catch (error) {
    if (!(error instanceof Stop)) throw error
    return { says: `not kept: ${error.message}`, isLost: true, stopped: error }
  }
}

async function keep(
  verdict: Verdict,
  watch: Watch,
  rules: ProveRules,
  { at, register, url, account }: Keeping,
  world: World,
): Promise<Pick<KeptResult, 'says'> & Partial<KeptResult>> {
  const what = verdict.proved ? 'proved' : 'failed'
  const bench = rules.power === 'bench'
  const join = middle(verdict.joinMilliseconds)
  if (at) {
    const words = watch.entries
      .filter(entry => entry.mark === rules.mark)
      // On a supply no cell sent anything, and nobody opened the window.
      .map((entry): Entry => (bench ? { ...entry, how: 'tested' } : entry))
    const result: Entry = {
      id: newId(world.now()),
      at: iso(world.now()),
      mark: rules.mark,
      what,
      how: 'live',
      ...(bench ? { text: 'bench' } : {}),
      ...(verdict.causes[0] === undefined ? {} : { note: verdict.causes[0] }),
      ...(join === undefined ? {} : { joinMilliseconds: join }),
    }
    await appendTally(at, [...words, result], world)
    return { says: `kept in ${at.path}` }
  }
  if (!keeperIsThere(watch.signs.keeper, world.now()))
    return { says: 'kept nowhere: no keeper is at work, and no --tally was given' }
  const note = bench ? 'bench' : verdict.causes[0]?.slice(0, 200)
  const heard = await sayOver(
    linkTo(url, account),
    register.tally,
    rules.mark,
    { what, ...(note === undefined ? {} : { note }), ...(join === undefined ? {} : { joinMilliseconds: join }) },
    world,
  )
  return heard.ok
    ? { says: 'kept by the keeper' }
    : { says: `not kept, the keeper says: ${heard.problem}`, isLost: true }
}
