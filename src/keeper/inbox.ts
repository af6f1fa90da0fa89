import type { Heard } from '../protocol/feed.ts'
import { parseKeeper } from '../protocol/keeper-note.ts'
import { tallyPlace } from '../protocol/topics.ts'
import { utf8Text } from '../text/utf8.ts'
import type { Journal } from './journal.ts'
import { sameReading } from './publish/notes.ts'
import type { Outlet } from './publish/outlet.ts'
import type { LinkGaps } from './session/link-gaps.ts'
import type { LinkSide } from './session/link-side.ts'
import type { RestWords } from './session/rest-words.ts'
import type { Rival } from './session/rival.ts'

interface InboxOptions {
  readonly tally: string
  readonly journal: Journal
  readonly outlet: Outlet
  readonly restWords: RestWords
  readonly gaps: LinkGaps
  readonly rival: Rival
  readonly link: LinkSide
  /** What the broker keeps has not been seen yet. */
  isFirst(): boolean
  /** Looks at the clock: a word that comes after it was set is dated by it. */
  look(): void
}

/** Hands every message to whom it is for; contacts' words and what people say go to the journal. */
export class Inbox {
  readonly #given: InboxOptions

  constructor(given: InboxOptions) {
    this.#given = given
  }

  /** Resolves when what the message says is on the disk. */
  heard(message: Heard): void | Promise<void> {
    const { tally, journal, rival, link, outlet, restWords, look } = this.#given
    const place = tallyPlace(tally, message.topic)
    if (place && place.kind !== 'say') journal.seen(message)
    switch (place?.kind) {
      case 'echo':
        rival.echo(message)
        link.echo(message)
        return
      case 'keeper':
        if (message.retain) this.#meet(message)
        return
      case 'register':
      case 'opening':
      case 'plain':
      case 'story':
        outlet.seen(message, place.kind === 'opening' ? sameReading : text => text)
        return
      case 'heard':
        return
    }
    if (restWords.isOwn(message)) return
    look()
    return journal.take(message, link.arrival(message))
  }

  /** The keeper's state as the broker keeps it. */
  #meet(message: Heard): void {
    const { gaps, rival, isFirst } = this.#given
    const note = parseKeeper(utf8Text(message.payload))
    gaps.stateSeen(note)
    if (note) rival.met(note.since, { isFirst: isFirst(), hadSession: gaps.wasTaken })
  }
}
