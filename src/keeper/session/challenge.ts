import { echoText, parseEcho } from '../../protocol/echo.ts'
import type { Feed, LinkState } from '../../protocol/feed.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import { utf8Text } from '../../text/utf8.ts'
import { type Clock, every } from '../clock.ts'

/** How long a keeper that is there may take to answer, once the question itself has come back. */
export const ANSWER_MILLISECONDS = 1_000
export const ASK_AGAIN_MILLISECONDS = 500
/** A question that has not come back to a live link by now never will: the account may not write or read it. */
export const SILENT_MILLISECONDS = 5_000

/** A question is for a keeper that is there: it must not wait at the broker for one that comes later. */
export const QUESTION = { qos: 0 } as const

export interface ChallengeHooks {
  link(state: LinkState): void
  /** Once: the link is live, and nothing that is published comes back. The question is asked on. */
  silent(): void
}

/** Nobody answered: the place is free; `release` once the keeper itself listens. */
export interface Free {
  readonly free: true
  release(): Promise<void>
}

export interface Taken {
  readonly free: false
  readonly since: string
}

/**
 * Asks over the broker whether a keeper of this tally is at work. Waits for the broker as long as it takes. Of two that
 * ask at once the one whose name sorts first gets the place.
 * @param scout - a feed of its own with a clean session: the keeper's session would throw the other one off
 * @param keeper - name of the one that asks
 */
export function challenge(
  scout: Feed,
  tally: string,
  keeper: string,
  clock: Clock,
  hooks: ChallengeHooks,
  signal: AbortSignal,
): Promise<Free | Taken> {
  const topics = tallyTopics(tally)
  const topic = topics.echo(keeper)
  let cancelWait: (() => void) | undefined
  let cancelSilent = (): void => {}
  let isToldSilent = false
  let settled = false
  return new Promise((done, failed) => {
    const cancelAsking = every(clock, ASK_AGAIN_MILLISECONDS, () => ask())
    const rest = (): void => {
      settled = true
      signal.removeEventListener('abort', giveUp)
      cancelAsking()
      cancelWait?.()
      cancelSilent()
    }
    const settle = (outcome: Free | Taken): void => {
      if (settled) return
      rest()
      if (outcome.free) done(outcome)
      else scout.close().then(() => done(outcome), failed)
    }
    const ask = (): void => {
      if (!settled) scout.publish(topic, echoText('question', keeper), QUESTION).catch(() => {})
    }
    const giveUp = (): void => {
      if (settled) return
      rest()
      scout.close().then(() => failed(signal.reason), failed)
    }
    if (signal.aborted) return giveUp()
    signal.addEventListener('abort', giveUp)
    const listenForSilence = (): void => {
      cancelSilent()
      if (isToldSilent || cancelWait) return
      cancelSilent = clock.after(SILENT_MILLISECONDS, () => {
        isToldSilent = true
        hooks.silent()
      })
    }
    scout.listen([topics.filters.echoes])
    scout.open({
      link(state) {
        hooks.link(state)
        if (state.state === 'live') {
          // From the question on: where many houses begin at once it waits for its turn.
          cancelSilent()
          cancelSilent = clock.after(0, () => {
            ask()
            listenForSilence()
          })
        } else if (state.state !== 'refused') cancelSilent()
      },
      heard(message) {
        if (tallyPlace(tally, message.topic)?.kind !== 'echo' || message.retain) return
        const echo = parseEcho(utf8Text(message.payload, 1_000))
        if (!echo) return
        if (echo.kind === 'answer') {
          if (message.topic === topic && echo.keeper !== keeper) settle({ free: false, since: echo.since ?? '' })
        } else if (echo.kind === 'question' && echo.keeper !== keeper) {
          // Another one asks too: the first by name stays, until the keeper itself answers.
          if (keeper < echo.keeper) scout.publish(message.topic, echoText('answer', keeper)).catch(() => {})
          else settle({ free: false, since: '' })
        } else if (echo.kind === 'question') {
          cancelSilent()
          cancelWait ??= clock.after(ANSWER_MILLISECONDS, () => settle({ free: true, release: () => scout.close() }))
        }
      },
    })
  })
}
