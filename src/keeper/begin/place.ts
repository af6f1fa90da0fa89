import { linkReason } from '../../link/link-reason.ts'
import type { LinkState } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { withoutUsers } from '../../text/masked.ts'
import { systemClock } from '../clock.ts'
import { silentSentence } from '../publish/sentences.ts'
import { type ChallengeHooks, challenge, type Free, type Taken } from '../session/challenge.ts'
import type { KeepOptions } from './keep-options.ts'

export interface AskOptions extends Pick<KeepOptions, 'register' | 'links' | 'signal' | 'tell'> {
  /** Name of the keeper that asks. */
  readonly keeper: string
  now(): number
  /** Nothing listens at the broker's address. */
  nobodyListens?(): void
}

/** Says why there is no broker yet. */
export function linkTeller({ links: { url }, tell }: Pick<KeepOptions, 'links' | 'tell'>): (state: LinkState) => void {
  const address = withoutUsers(url)
  return state => {
    if (state.state === 'refused') tell(`the broker at ${address} refuses: ${state.why}; trying on`, 'link-refused')
    else if (state.state === 'down')
      tell(`no broker at ${address}${state.why ? ` (${linkReason(state.why)})` : ''}; trying on`, 'link-down')
  }
}

/**
 * Asks on a link of its own whether a keeper of the house is at work.
 * @returns undefined when the signal ended it
 */
export function askForPlace(options: AskOptions): Promise<Free | Taken | undefined> {
  const { register, links, keeper, signal, now, tell } = options
  const say = linkTeller(options)
  const hooks: ChallengeHooks = {
    link: state => {
      say(state)
      if (state.state === 'down' && state.nobodyListens) options.nobodyListens?.()
    },
    silent: () => tell(silentSentence(tallyTopics(register.tally).filters.echoes), 'silent'),
  }
  return challenge(links.link({ now }), register.tally, keeper, systemClock, hooks, signal).catch(error => {
    if (signal.aborted) return undefined
    throw error
  })
}
