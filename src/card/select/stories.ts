import type { Clocks } from '../../house/clock.ts'
import type { HouseState } from '../../house/state.ts'
import { storyTeller } from '../../house/story.ts'
import type { StoryNote } from '../../protocol/story.ts'
import { own } from '../../text/own.ts'
import { HOUR, iso, MINUTE } from '../../text/time.ts'
import { saidAt } from '../state/keeper.ts'
import { hearsAll } from '../state/link.ts'
import { isFresh } from '../state/shown.ts'
import type { CardState } from '../state/state.ts'
import { remembering } from './remembering.ts'

export type StoryOf = (mark: string) => StoryNote | undefined

interface Mine {
  readonly of: readonly unknown[]
  readonly story: StoryNote | undefined
}

/**
 * The stories of one card: a keeper's, and this tablet's own where there is none. Those of a keeper that fell silent go
 * on with what was heard here since.
 */
export class Stories {
  readonly #mine = new Map<string, Mine>()
  readonly #teller = remembering(storyTeller)
  readonly #whole = new Map<string, typeof whole>()

  /** Each is made when it is asked for, and is the same object while it tells the same. */
  of(state: CardState, clocks: Clocks): StoryOf {
    const { shown, keeper, tally, link, listening } = state
    const minute = Math.floor(clocks.now / MINUTE) * MINUTE
    const until = hearsAll(link) ? minute : (listening.until ?? minute)
    const isLive = isFresh(state, clocks)
    let said: number | undefined
    return mark => {
      const told = keeper.stories.get(mark)
      if (shown === 'keeper') return told
      const mine = tally.counted && this.#mineOf(mark, tally.counted, until)
      if (told) said ??= saidAt(keeper)
      const end = mine ? until : isLive ? minute : (said ?? minute)
      const join = this.#whole.get(mark) ?? remembering(whole)
      this.#whole.set(mark, join)
      return join(told, mine, told && said, end, minute)
    }
  }

  #mineOf(mark: string, house: HouseState, until: number): StoryNote | undefined {
    const of = [own(house.ledger.marks, mark), house.deaf, house.register, Math.floor(until / HOUR)]
    const known = this.#mine.get(mark)
    if (known?.of.every((part, index) => part === of[index])) return known.story
    const story = this.#teller(house, until)(mark)
    this.#mine.set(mark, { of, story })
    return story
  }
}

/**
 * @param told - by a keeper, up to `said`
 * @param mine - as it was heard here
 * @param end - until when somebody listened
 */
function whole(
  told: StoryNote | undefined,
  mine: StoryNote | undefined,
  said: number | undefined,
  end: number,
  now: number,
): StoryNote | undefined {
  const story = told && mine && said !== undefined ? goneOn(told, mine, iso(said)) : (told ?? mine)
  if (!story || end >= now) return story
  return { ...story, unheard: [...(story.unheard ?? []), [iso(end), iso(now)]] }
}

/** Of months the larger count: neither knows less than it says. */
function goneOn(told: StoryNote, mine: StoryNote, said: string): StoryNote {
  const months = mine.months.map(month => {
    const before = told.months.find(each => each.month === month.month)
    return {
      ...month,
      openings: Math.max(month.openings, before?.openings ?? 0),
      listened: Math.max(month.listened, before?.listened ?? 0),
    }
  })
  const later = mine.unheard?.filter(([, to]) => to > said) ?? []
  return {
    ...told,
    months,
    openings: [...told.openings, ...mine.openings.filter(([at, until]) => (until ?? at) > said)],
    unheard: [...(told.unheard ?? []), ...later.map(([from, to]): [string, string] => [from > said ? from : said, to])],
  }
}
