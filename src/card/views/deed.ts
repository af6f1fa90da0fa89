/** What became of what a person said: told in the box that was pressed. */
import type { Refusal } from '../../protocol/heard-note.ts'
import type { Scene } from '../select/scene.ts'
import type { Deed } from '../state/deeds.ts'
import { mayBeOpen, type Row } from '../state/row.ts'
import type { Key } from '../words/en.ts'
import { named, tellProblem } from '../words/tell.ts'
import { type Panel, panelOf } from './panel.ts'

/** Whether a box tells of a deed. */
type IsOurs = (deed: Deed) => boolean

export const ofLook: IsOurs = ({ what }) => what === 'seen-closed'
export const ofTest: IsOurs = ({ what }) => what === 'failed'
export const ofLookAt =
  (mark: string): IsOurs =>
  deed =>
    ofLook(deed) && isOf(deed, mark)
export const ofCellOf =
  (mark: string): IsOurs =>
  deed =>
    deed.what === 'cell-fitted' && isOf(deed, mark)

/** The newest first. */
const allDeeds = ({ deeds: { last, earlier } }: Scene): readonly Deed[] => [
  ...(last ? [last] : []),
  ...[...earlier].reverse(),
]

/** What has no box in sight: it must not go untold. */
export function deedsElsewhere(scene: Scene): readonly Deed[] {
  const { told } = scene.chosen
  const panel = panelOf(scene)
  const boxes: Record<Panel | 'house', readonly IsOurs[]> = {
    house: [ofLook],
    'last-look': [ofLook],
    round: scene.walk.round ? [ofTest] : [],
    story: [ofLookAt(told ?? ''), ofCellOf(told ?? '')],
    'while-out': [],
    signs: [],
  }
  const shown = scene.maySay ? boxes[panel ?? 'house'].map(isOurs => deedFor(scene, isOurs)) : []
  return allDeeds(scene).filter(deed => !shown.includes(deed) && !isOver(deed, scene))
}

/** It could not be said, and what stood in the way is gone; or it was noted, and what was seen shut is open again. */
export function isOver(deed: Deed, { notNow, maySay, rowOf }: Scene): boolean {
  const { noWay, said, lost, state, at, what } = deed
  if (noWay !== undefined && noWay !== 'mayNotSay') {
    const isToldAlready = what === 'round' && (lost?.length ?? 0) > 0
    return !isToldAlready && said.length === 0 && !notNow && maySay
  }
  return state === 'noted' && ofLook(deed) && said.some(({ mark }) => isOpenSince(rowOf(mark), at))
}

const isOpenSince = (row: Row | undefined, at: number): boolean =>
  row !== undefined && mayBeOpen(row) && Date.parse(row.reading.since ?? '') > at

/** The newest deed that a box tells of. */
export function deedFor(scene: Scene, isOurs: IsOurs): Deed | undefined {
  const ours = allDeeds(scene).filter(deed => isOurs(deed) && !isOver(deed, scene))
  return ours.find(({ state }) => state === 'sending') ?? [...ours].sort((a, b) => b.at - a.at)[0]
}

/** It speaks of this opening. */
export const isOf = ({ said, lost = [] }: Deed, mark: string): boolean =>
  lost.includes(mark) || said.some(each => each.mark === mark)

export const canUndo = ({ state, said }: Deed): boolean => state === 'noted' || (state === 'failed' && said.length > 0)

export function tellDeed(deed: Deed, scene: Scene): string {
  const { words, when, now } = scene
  const [mark, n] = [deed.said[0]?.mark ?? '', deed.said.length]
  switch (deed.state) {
    case 'sending':
      return words.say('sending')
    case 'undone':
      return words.say('undone')
    case 'failed':
      return failure(deed, scene)
    case 'noted': {
      const at = when.at(deed.at, now)
      if (deed.what !== 'seen-closed')
        return words.say(deed.what === 'failed' ? 'failedNoted' : 'cellFittedNoted', { mark, at })
      return n === 1 ? words.say('noted', { mark, at }) : words.say('notedMany', { n, at })
    }
  }
}

/** Why a keeper did not take it, where a family can do something about it. */
const REFUSED: { readonly [code in Refusal]?: Key } = {
  unknown: 'refusedUnknown',
  'no-cell': 'refusedNoCell',
  'not-there': 'refusedNotThere',
  'too-late': 'refusedTooLate',
}

function reason({ noWay, code, problem }: Deed, scene: Scene): string | undefined {
  const { words } = scene
  if (noWay) return words.say(noWay)
  if (code) return words.say(REFUSED[code] ?? 'refusedElse')
  return problem && words.say('keeperSays', { problem: tellProblem(problem, scene) })
}

function failure(deed: Deed, scene: Scene): string {
  const { what, lost = [], notTaken, noWay, isUndo } = deed
  const { words } = scene
  const why = reason(deed, scene)
  if (what === 'round' && why) return lost.length > 0 ? `${words.say('roundLost', { n: lost.length })} ${why}` : why
  // Others may have been said since: it names its own.
  const names = [...new Set(lost)]
  const marks = named(names)
  if (isUndo) return `${words.say('notUndone', { marks })} ${why ?? notTaken ?? ''}`
  if (noWay && why) return why
  return `${marks}: ${why ?? [words.say('notHeard', { n: names.length }), notTaken].filter(Boolean).join(' ')}`
}
