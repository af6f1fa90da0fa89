import { ANSWER_MILLISECONDS, type Answer, NO_ANSWER } from '../../house/asked.ts'
import { NotTaken } from '../../protocol/feed.ts'
import { messageOf } from '../../text/message-of.ts'
import type { CardEffect } from '../state/effect.ts'
import type { CardEvent } from '../state/event.ts'
import type { LinkStanding } from '../state/link.ts'
import type { CardState } from '../state/state.ts'
import type { CardWorld, Credentials } from '../world.ts'
import type { Handlers } from './handlers.ts'
import { recall, remember } from './memory.ts'
import { TallyEffects } from './tally-effects.ts'

/** The link to the broker. */
interface LinkPort {
  /** Dials unless it is dialled. */
  use(broker: string, credentials: Credentials | undefined): void
  listen(filters: readonly string[]): void
  renew(): void
  publish(topic: string, payload: string): Promise<void>
}

/** The element in the page. */
interface PagePort {
  opened(mark: string, at: string): void
  linkChanged(standing: LinkStanding): void
  /** Gives the focus to the first of these that is seen, after the next drawing. */
  focus(selectors: readonly string[]): void
  putBack(): void
  drawNow(): void
}

interface Ports {
  readonly world: () => CardWorld
  readonly state: () => CardState
  readonly dispatch: (event: CardEvent) => void
  readonly link: LinkPort
  readonly page: PagePort
  /** Who this tablet is to the broker of a house, as a person said. */
  readonly account: {
    for(broker: string, tally: string): Credentials | undefined
    keep(credentials: Credentials): void
    forget(): void
  }
}

/** Carries out what follows from a card's events; what came of it comes back as events. */
export function carrierOf({ world, state, dispatch, link, page, account }: Ports): (effect: CardEffect) => void {
  const tally = new TallyEffects(world, state, dispatch)
  const handlers: Handlers<CardEffect> = {
    ...tally.handlers,
    listen: ({ broker, tally, filters }) => {
      link.listen(filters)
      link.use(broker, account.for(broker, tally))
    },
    redial: () => link.renew(),
    'keep-account': ({ user, password }) => account.keep({ user, password }),
    'forget-account': () => account.forget(),
    publish: ({ id, topic, payload }) => {
      link.publish(topic, payload).catch(error => dispatch({ kind: 'unanswered', ids: [id], answer: notTaken(error) }))
    },
    'await-answers': ({ ids }) => {
      setTimeout(() => dispatch({ kind: 'unanswered', ids }), ANSWER_MILLISECONDS)
    },
    recall: ({ tally, house }) => dispatch({ kind: 'recalled', tally, house, memory: recall(tally, house) }),
    remember: ({ name, text, inPage }) => remember(name, text, inPage),
    opened: ({ mark, at }) => page.opened(mark, at),
    'link-changed': ({ standing }) => page.linkChanged(standing),
    focus: ({ selectors }) => page.focus(selectors),
    'put-back': () => page.putBack(),
    print: () => print(),
    'draw-now': () => page.drawNow(),
    report: ({ why }) => reportError(new Error(why)),
  }
  return effect => (handlers[effect.kind] as (effect: CardEffect) => void)(effect)
}

const notTaken = (error: unknown): Answer => ({
  ...NO_ANSWER,
  notTaken: messageOf(error),
  ...(error instanceof NotTaken && error.isForbidden ? { isForbidden: true } : {}),
})
