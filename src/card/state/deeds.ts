/** What a person said on the sheet, how it went, and the way back. */
import type { Asked } from '../../house/asked.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Refusal } from '../../protocol/heard-note.ts'
import type { Say } from '../../protocol/say.ts'
import type { Look } from './look.ts'

/** Why nothing can be said here; the sentence of that name tells it. */
export type NoWay = 'onlyLooks' | 'keeperUnheard' | 'notOnThisPage' | 'mayNotSay'
/** Where a word goes: to the keeper, into this tablet's own tally, or nowhere. */
export type Way = 'keeper' | 'own' | NoWay

export const isOpenWay = (way: Way): way is 'keeper' | 'own' => way === 'keeper' || way === 'own'

/** Something that was said of one opening: the id of its entry. */
export interface Said {
  readonly mark: string
  readonly id: string
}

export interface Deed {
  readonly what: 'seen-closed' | 'cell-fitted' | 'failed' | 'round'
  /** One said entry an opening: of a failed deed those that may have been noted. */
  readonly said: readonly Said[]
  readonly at: number
  readonly state: 'sending' | 'noted' | 'undone' | 'failed'
  /** Where it went. */
  readonly way?: Way
  /** It was to be taken back. */
  readonly isUndo?: true
  /** Of a failed deed: marks of those that were not taken. */
  readonly lost?: readonly string[]
  /** Why the keeper did not take it: in a word, and of a keeper that gives none in its sentence. */
  readonly code?: Refusal
  readonly problem?: string
  /** Why the broker did not take it. */
  readonly notTaken?: string
  /** It could not be said at all. */
  readonly noWay?: NoWay
}

/** One say on its way to the keeper: what it says, and the entry that it becomes here once the keeper has noted it. */
export interface Asking {
  readonly say: Say
  /** What it says, or takes back. */
  readonly said: Said
  readonly entry: Omit<Entry, 'at'>
}

/** A deed on its way, until each of its says is answered. */
export interface Sending extends Asked {
  readonly kind: 'say' | 'undo' | 'round'
  readonly deed: Deed
  readonly way: 'keeper' | 'own'
  readonly asking: readonly Asking[]
}

export interface Deeds {
  readonly ticked: ReadonlySet<string>
  /** The last look round as a person has it before them; undefined: nobody does. */
  readonly look: Look | undefined
  /** What was said last. */
  readonly last: Deed | undefined
  /** What was said before it: it can still be taken back, waits for its answer, or failed. */
  readonly earlier: readonly Deed[]
  readonly sending: readonly Sending[]
}

export const noDeeds: Deeds = {
  ticked: new Set(),
  look: undefined,
  last: undefined,
  earlier: [],
  sending: [],
}

export const marksOf = ({ said }: Pick<Deed, 'said'>): readonly string[] => said.map(({ mark }) => mark)

/** Marks of which something that was said is not answered yet. */
export const sendingMarks = ({ sending }: Deeds): ReadonlySet<string> =>
  new Set(sending.flatMap(({ kind, deed }) => (kind === 'say' ? marksOf(deed) : [])))
