import { type EntryNotes, someOf } from '../../emit/hub/entry-notes.ts'
import type { HubFile } from '../../emit/hub/hub-file.ts'
import { learnedLines } from '../../emit/hub/learned-words.ts'
import { placesOf } from '../../emit/hub/profile.ts'
import { type Block, entryLines } from '../../emit/hub/splice.ts'
import { PLAIN_WORDS } from '../../protocol/plain.ts'
import { tame } from '../../text/problems.ts'
import type { World } from '../world.ts'
import { tellRemarks } from './emit-deliver.ts'
import type { Asked } from './emit-hub-asked.ts'
import { type HandKept, handText } from './emit-hub-by-hand.ts'
import type { Source } from './emit-hub-recipe.ts'

/** What a block changes of the one that stands. */
export interface Changes {
  /** Marks of entries that are new or changed; undefined for a first block. */
  readonly marks?: ReadonlySet<string>
  readonly gone: number
  /** The block that stands was made from the same profile and wire. */
  readonly isKnown: boolean
}

export interface HubChange {
  readonly source: Source
  readonly byHand: readonly HandKept[]
  readonly taken: readonly HandKept[]
  readonly changes: Changes
  readonly isMoved: boolean
}

/** Compares a block with the one that stands in the file. */
export function changesIn(hub: HubFile | undefined, { entries, as, recipe }: Block): Changes {
  if (!hub?.block) return { gone: 0, isKnown: false }
  const lines = hub.text.slice(hub.block.from, hub.block.to).split(/\r?\n/)
  const indent = /^ */.exec(lines[0] ?? '')![0].length
  const body = lines.slice(1).map(line => line.slice(indent))
  const comments = body.filter(line => line.startsWith('#'))
  const old = new Set<string>()
  let current: string[] = []
  for (const line of body.filter(each => !each.startsWith('#') && each !== '')) {
    if (!line.startsWith(' ')) {
      if (current.length) old.add(current.join('\n'))
      current = []
    }
    current.push(line)
  }
  if (current.length) old.add(current.join('\n'))
  const changed = new Set<string>()
  for (const entry of entries) if (!old.delete(entryLines([entry], as).join('\n'))) changed.add(entry.mark)
  const isKnown = recipe.every((line, index) => comments[index] === line)
  return { marks: changed, gone: Math.max(0, old.size - changed.size), isKnown }
}

/** The one line that matters, after the file and its state. */
export function detailOf({ entries }: Block, { source, byHand, changes }: HubChange): string {
  const { profile, wire } = source
  const count = `${entries.length} ${entries.length === 1 ? 'entry' : 'entries'}`
  const news = [
    ...(changes.marks?.size ? [`${changes.marks.size} new or changed`] : []),
    ...(changes.gone ? [`${changes.gone} gone`] : []),
  ]
  const to = wire === 'tally' ? 'the tally’s plain words' : 'the contacts themselves'
  const place = profile.place === '' ? '' : ` at ${profile.place}`
  const kept = byHand.length ? `; by hand: ${someOf(byHand.map(handText))}` : ''
  return `${count}${place}${news.length ? ` (${news.join(', ')})` : ''}, wired to ${to}${kept}`
}

/** What was learned and what a person should know, the first time; later, what is about entries that changed. */
export function tellMore(
  { source, taken, changes, isMoved }: HubChange,
  notes: EntryNotes,
  { like }: Asked,
  world: World,
): void {
  const { profile, wire, learnedFrom, remarks } = source
  if (isMoved) tellRemarks([`The block stood at another place; it now stands at ${profile.place}`], world)
  if (taken.length)
    tellRemarks(
      [`Taken over into the block, comments inside them left out: ${someOf(taken.map(({ mark }) => mark))}`],
      world,
    )
  if (changes.isKnown) {
    tellRemarks(notes.sentences(changes.marks), world)
    return
  }
  if (learnedFrom)
    world.stderr.write(
      `Learned from the entry for ${learnedFrom.mark} in ${tame(like ?? '')}:\n${learnedLines(profile).map(tame).join('\n')}\n`,
    )
  tellRemarks([...remarks, ...notes.sentences()], world)
  if (wire === 'contact')
    tellRemarks(
      [
        'These entries listen to the contacts themselves. A rest word comes seconds after every opening, whether or not the window was shut, so the hub will take an open window for closed. Once a keeper runs, make them again with --wire tally: the tally says closed only of what was seen or reported shut',
      ],
      world,
    )
  else if (!placesOf(profile).has('gone'))
    tellRemarks(
      [
        `The tally says a third word, ${PLAIN_WORDS[2]}, where nobody knows whether it is shut. If the hub can show a third state, give it that word; it must not be shown as shut`,
      ],
      world,
    )
}
