/** What a person says on the sheet, and takes back. */
import { MINUTE } from '../../text/time.ts'
import { type Asking, type Deed, type Deeds, marksOf } from '../state/deeds.ts'
import { openingOf, wayOf } from '../state/shown.ts'
import { holdLook } from './look.ts'
import { send } from './says.ts'
import { change, type Turn } from './turn.ts'
import { endWalk } from './walk.ts'

/** What was said stays on the sheet this long, with its way back. */
const DEED_MILLISECONDS = 10 * MINUTE
/** The same said again this soon is a second tap. */
const TWICE_MILLISECONDS = 1_000

const setDeeds = (turn: Turn, more: Partial<Deeds>): Turn => change(turn, 'deeds', more)

/** Once a second: what was said long ago leaves the sheet. */
export function tidyDeeds(turn: Turn): Turn {
  const stays = ({ at, state }: Deed) => state === 'sending' || Math.abs(turn.stamp.now - at) <= DEED_MILLISECONDS
  const { last, earlier } = turn.state.deeds
  if ((!last || stays(last)) && earlier.every(stays)) return turn
  return setDeeds(turn, { last: last && stays(last) ? last : undefined, earlier: earlier.filter(stays) })
}

export const untickAll = (turn: Turn): Turn => setDeeds(turn, { ticked: new Set(), look: undefined })

export function seenShut(turn: Turn, marks: readonly string[]): Turn {
  const held = holdLook(turn)
  return say(setDeeds(held, { ticked: new Set([...held.state.deeds.ticked, ...marks]) }), 'seen-closed', marks)
}

export function say(turn: Turn, what: Exclude<Deed['what'], 'round'>, marks: readonly string[]): Turn {
  const { now, id } = turn.stamp
  const { last: before, sending, earlier } = turn.state.deeds
  const { by } = turn.state.attributes
  const said = marks.map((mark, index) => ({ mark, id: `${id}-${index}` }))
  const deed: Deed = { what, said, at: now, state: 'sending' }
  // Pressed again it is the same deed.
  const isJustNoted = before?.state === 'noted' && Math.abs(now - before.at) < TWICE_MILLISECONDS
  const underWay = sending.flatMap(each => (each.kind === 'say' ? [each.deed] : []))
  if ([...underWay, ...(isJustNoted ? [before] : [])].some(each => isSame(each, deed))) return turn
  const told = [...earlier, ...(before ? [before] : [])].filter(({ state }) => state !== 'undone')
  const after = setDeeds(turn, { earlier: told, last: deed })
  const asking = said.map((one): Asking => {
    const type = what === 'cell-fitted' ? openingOf(turn.state, one.mark)?.cell : undefined
    const more = { ...(type === undefined ? {} : { cell: { type } }), ...(by ? { by } : {}) }
    return { said: one, say: { v: 1, id: one.id, what, ...more }, entry: { ...one, what, how: 'live', ...more } }
  })
  return send(after, { kind: 'say', deed, asking })
}

/** Takes a deed back on the way that it went. */
export function undo(turn: Turn, deed: Deed): Turn {
  if (deed.said.length === 0) return turn
  const { last, earlier } = turn.state.deeds
  const sending: Deed = { ...deed, state: 'sending' }
  const after = setDeeds(turn, {
    last: last === deed ? sending : last,
    earlier: earlier.map(each => (each === deed ? sending : each)),
  })
  const asking = deed.said.map((said, index): Asking => {
    const { mark, id: undoes } = said
    const more = { id: `${turn.stamp.id}-${index}`, what: 'undone', undoes } as const
    return { said, say: { v: 1, ...more }, entry: { mark, how: 'live', ...more } }
  })
  return send(after, { kind: 'undo', deed: sending, asking })
}

/** Ends the walk, and hands over what it leaves in the tally. */
export function sayRound(turn: Turn): Turn {
  const deed: Deed = { what: 'round', said: [], at: turn.stamp.now, state: 'sending' }
  // What it has ticked is kept, and can be told once the keeper is heard.
  if (wayOf(turn.state, turn.stamp) === 'keeperUnheard') return send(turn, { kind: 'round', deed, asking: [] })
  const [after, entries] = endWalk(turn)
  if (entries.length === 0) return after
  const asking = entries.map(({ at: _, ...entry }): Asking => {
    const { mark, id, text = '' } = entry
    return { said: { mark, id }, say: { v: 1, id, what: 'round', note: text }, entry }
  })
  return send(after, { kind: 'round', deed, asking })
}

const isSame = (a: Deed, b: Deed): boolean => a.what === b.what && `${marksOf(a)}` === `${marksOf(b)}`
