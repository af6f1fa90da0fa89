import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import type { Refusal } from '../protocol/heard-note.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import { parseSay, type Say } from '../protocol/say.ts'
import { SAYABLE } from '../protocol/whats.ts'
import { firstOf } from '../text/lists.ts'
import { looksLike } from '../text/look-alike.ts'
import { own } from '../text/own.ts'
import { DAY, iso } from '../text/time.ts'
import { isBeyondWindow, type Ledger, WINDOW } from './apply.ts'
import { ROUND_TEXTS } from './round.ts'

/** A test that nobody ends must end. */
const LONGEST_TEST = DAY

/** What a say is judged by. */
export interface SayContext {
  readonly ledger: Ledger
  readonly policy: HousePolicy
  /** Milliseconds since the epoch. */
  readonly now: number
  /** An entry that stands, by its id. */
  find(id: string): Entry | undefined
  /** What the header of a revision holds, where the register still gives that one. */
  factsOf?(mark: string, revision: string): string | undefined
}

/** How a say came, for a say without a time of its own. */
export interface SayArrival {
  readonly retain: boolean
  readonly at: string
  readonly until?: string
  readonly queued?: boolean
}

/** A new entry, that the same entry stands already, or why the say is refused; without `id` nobody can be answered. */
export type Judged =
  | { readonly id: string; readonly entry: Entry }
  | { readonly id: string; readonly again: true }
  | ({ readonly id?: string } & Refused)

/** Why a say is refused: in a sentence, and in a word. */
export interface Refused {
  readonly problem: string
  readonly code: Refusal
}

/** Judges what was published on `say/<mark>`. */
export function judgeSay(text: string, mark: string, arrival: SayArrival, context: SayContext): Judged {
  const parsed = parseSay(text)
  if ('problem' in parsed) return { ...parsed, code: 'form' }
  const { say } = parsed
  const { id } = say
  const refused = arrival.retain
    ? refuse('retained', 'a say must not be retained: publish it again without')
    : refusalOf(say, mark, context)
  if (refused) return { id, ...refused }
  const entry = entryOfSay(say, mark, arrival, context)
  const standing = context.find(id)
  if (!standing) return { id, entry }
  if (isSame(standing, entry)) return { id, again: true }
  return { id, ...refuse('id', `the id ${id} stands already for another entry of ${standing.mark}: choose a new one`) }
}

const refuse = (code: Refusal, problem: string): Refused => ({ problem, code })

function refusalOf(say: Say, mark: string, { ledger, policy, now, find }: SayContext): Refused | undefined {
  const rules = own(policy, mark)
  if (!rules) return refuse('unknown', `the register has no opening ${mark}; it has ${marksIn(policy)}`)
  if (say.by !== undefined && looksLike(say.by, KEEPER_NAME))
    return refuse('signed', `by must not be ${KEEPER_NAME}: the keeper signs so itself`)
  if (say.at !== undefined && Date.parse(say.at) > now) {
    return refuse('future', `at lies in the future: ${say.at}, and the keeper's clock says ${iso(now)}`)
  }
  if (say.at !== undefined && isBeyondWindow(ledger, mark, { at: say.at })) {
    return refuse(
      'too-late',
      `at is too far back: ${mark} has had more than ${WINDOW} entries since ${say.at}; say it without at, with the time in note`,
    )
  }
  if (say.until !== undefined && Date.parse(say.until) > now + LONGEST_TEST) {
    return refuse(
      'long',
      `until is more than a day ahead: ${say.until}; what is on test counts nothing, so say it again tomorrow`,
    )
  }
  if (say.what === 'cell-fitted' && rules.power === 'mains')
    return refuse('no-cell', `${mark} runs on mains and has no cell`)
  if (say.what !== 'undone') return undefined
  const target = find(say.undoes ?? '')
  if (!target || !marksOf(mark, rules.was).includes(target.mark))
    return refuse('not-there', `${mark} has no entry ${say.undoes}`)
  if (!(SAYABLE as readonly string[]).includes(target.what)) {
    return refuse(
      'not-there',
      `${say.undoes} is a word of the contact (${target.what}): only what a person said can be taken back`,
    )
  }
  if (isBeyondWindow(ledger, mark, { id: target.id })) {
    return refuse(
      'too-late',
      `${say.undoes} is too far back: ${mark} has had ${WINDOW} entries since; say what is so now instead`,
    )
  }
  return undefined
}

const marksOf = (mark: string, was: readonly string[] = []): readonly string[] => [mark, ...was]

function marksIn(policy: HousePolicy): string {
  const marks = Object.keys(policy)
  return firstOf(marks, 8)
}

/** A proved or failed say with the note `bench`: the test did not run on the opening's own cell. */
const isBench = ({ what, note }: Say): boolean => (what === 'proved' || what === 'failed') && note === 'bench'

/** What a walk found, as a walk that is kept without a keeper writes it. */
const isFound = ({ what, note }: Say): boolean => what === 'round' && ROUND_TEXTS.some(text => text === note)

function entryOfSay(say: Say, mark: string, came: SayArrival, context: SayContext): Entry {
  // A test begins when its say is heard, and `until` is its end.
  const arrival = say.what === 'on-test' ? { retain: came.retain, at: came.until ?? came.at } : came
  const { id, what, at, until, by, note, cell, undoes, revision, joinMilliseconds } = say
  const facts = what === 'flashed' && revision !== undefined ? context.factsOf?.(mark, revision) : undefined
  const waited = at === undefined && arrival.queued === true
  return {
    id,
    at: at ?? arrival.at,
    ...(waited && arrival.until !== undefined ? { until: arrival.until } : {}),
    ...(until === undefined ? {} : { until }),
    mark,
    what,
    how: at !== undefined ? 'said' : waited ? 'queued' : 'live',
    ...(isBench(say) || isFound(say) ? { text: note! } : facts === undefined ? {} : { text: facts }),
    ...(joinMilliseconds === undefined ? {} : { joinMilliseconds }),
    ...(by === undefined ? {} : { by }),
    ...(note === undefined || isBench(say) || isFound(say) ? {} : { note }),
    ...(cell === undefined ? {} : { cell }),
    ...(undoes === undefined ? {} : { undoes }),
    ...(revision === undefined ? {} : { revision }),
  }
}

/** Whether a say came twice. Without a time of its own, the second may have come at another moment. */
function isSame(one: Entry, other: Entry): boolean {
  const bare = ({ at, until, how, ...rest }: Entry) =>
    JSON.stringify(
      Object.entries({ ...rest, at: how === 'said' ? at : '', until: rest.what === 'on-test' ? until : '' }).sort(),
    )
  return bare(one) === bare(other)
}
