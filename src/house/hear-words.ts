import { applyAll, type Ledger } from '../ledger/apply.ts'
import { EMPTY_FOLD, type Fold } from '../ledger/fold.ts'
import { hear } from '../ledger/hear.ts'
import { isNews } from '../ledger/news.ts'
import { asTested } from '../ledger/on-test.ts'
import type { Entry } from '../protocol/entry.ts'
import { tallyPlace } from '../protocol/topics.ts'
import { messageOf } from '../text/message-of.ts'
import { own } from '../text/own.ts'
import { arrivalBy } from './clock-notes.ts'
import type { Effect, HouseEvent, HouseState, SayHearing, Word } from './state.ts'

/** Words that become entries, one after the other; the house is copied only when somebody looks at the ledger. */
class Gathering {
  readonly answers: Effect[] = []
  #ledger: Ledger
  #entries: Entry[] = []
  #counted = 0
  #hasSays = false
  readonly #marks = new Set<string>()
  readonly #kept: SayHearing['find'] | undefined
  #isUnreadable = false

  constructor(ledger: Ledger, kept: SayHearing['find'] | undefined) {
    this.#ledger = ledger
    this.#kept = kept
  }

  /** An entry by its id, of those gathered or kept. What is kept may not be readable: that is no fault of the word. */
  readonly find = (id: string): Entry | undefined => {
    const gathered = this.#entries.find(each => each.id === id)
    if (gathered) return gathered
    this.#isUnreadable = true
    const kept = this.#kept?.(id)
    this.#isUnreadable = false
    return kept
  }

  get entries(): readonly Entry[] {
    return this.#entries
  }

  add(entry: Entry): void {
    this.#entries.push(entry)
    this.#marks.add(entry.mark)
    this.#hasSays ||= entry.what === 'on-test' || entry.what === 'undone'
  }

  /** The ledger after all entries. */
  get ledger(): Ledger {
    this.#ledger = applyAll(this.#ledger, this.#entries.slice(this.#counted))
    this.#counted = this.#entries.length
    this.#marks.clear()
    return this.#ledger
  }

  /** A ledger that is up to date for one mark. */
  ledgerFor(mark: string): Ledger {
    return this.#marks.has(mark) ? this.ledger : this.#ledger
  }

  /** What is known of a mark, but for the contacts' words of this gathering. */
  foldBySays(mark: string): Fold {
    return own((this.#hasSays ? this.ledger : this.#ledger).marks, mark)?.fold ?? EMPTY_FOLD
  }

  /** Does one word's work; where that fails one word must not stop all others: nothing of it is left. */
  try(work: () => void): void {
    const [ledger, counted, length, answers] = [this.#ledger, this.#counted, this.#entries.length, this.answers.length]
    try {
      work()
    } catch (error) {
      if (this.#isUnreadable) throw error
      this.#ledger = ledger
      this.#counted = counted
      this.#entries.length = length
      this.answers.length = answers
      const why = `a message could not be counted: ${messageOf(error)}`
      this.answers.push({ kind: 'refused', why })
    }
  }
}

type Words = Extract<HouseEvent, { kind: 'words' }>

export interface HeardWords {
  readonly ledger: Ledger
  readonly entries: readonly Entry[]
  /** Contacts of both edges that were heard, copies that the broker keeps too. */
  readonly heard: ReadonlySet<string>
  readonly effects: readonly Effect[]
}

/**
 * Messages to entries: contacts' words are decoded, says are judged, copies that tell nothing new are left out.
 * @throws whatever `find` throws
 */
export function hearWords(state: HouseState, { words, now, says }: Words): HeardWords {
  const gathering = new Gathering(state.ledger, says?.find)
  const heard = new Set<string>()
  for (const came of words) {
    const word = { ...came, arrival: came.message.retain ? came.arrival : arrivalBy(state, came.arrival) }
    gathering.try(() => {
      const place = tallyPlace(state.register?.tally ?? '', word.message.topic)
      if (place?.kind === 'say') {
        if (!says) return
        const { ledger, find } = gathering
        const { entry, effect } = says.hear(state, word, place.mark, { ledger, now, find })
        if (entry) gathering.add(entry)
        gathering.answers.push(effect)
      } else if (word.delivery !== 'again') hearContact(state, gathering, word, heard)
    })
  }
  return {
    ledger: gathering.ledger,
    entries: gathering.entries,
    heard,
    effects: gathering.answers,
  }
}

function hearContact(
  { ears, ledger: { policy } }: HouseState,
  gathering: Gathering,
  { id, message, arrival, delivery }: Word,
  heard: Set<string>,
): void {
  const entry = hear(ears, message, { ...arrival, id, ...(delivery === 'maybe' ? { maybeAgain: true } : {}) })
  if (!entry) return
  const tested = asTested(entry, gathering.foldBySays(entry.mark))
  if (tested !== entry) {
    if (tested) gathering.add(tested)
    return
  }
  if (entry.what !== 'odd' && own(policy, entry.mark)?.reports === 'both') heard.add(entry.mark)
  if (entry.how !== 'retained' || isNews(gathering.ledgerFor(entry.mark), entry)) gathering.add(entry)
}
