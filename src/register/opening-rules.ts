import { nearest } from '../text/nearest.ts'
import { shown, tame } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import { namesIn, type RuleContext, textOf, valueAt } from './rule-context.ts'

/** The opening a rule speaks of. */
export interface Named {
  readonly index: number
  readonly who: string
}

/** Side and floor exist in the house. */
export function placeRules({ read, root, add }: RuleContext, { who, index }: Named): void {
  const side = read(['openings', index, 'at', 'side'])
  const sides = root.sides
  if (typeof side === 'string' && Array.isArray(sides) && !sides.includes(side)) {
    add(['openings', index, 'at', 'side'], 'value', 'side', () => {
      const meant = nearest(
        side,
        sides.filter(name => typeof name === 'string'),
      )
      return `${who}: A side is one of those that sides lists; ${shown(side)} is not there: ${meant ? `did you mean ${tame(meant)}?` : 'add it there, or change it'}`
    })
  }
  const floor = read(['openings', index, 'at', 'floor'])
  const floors = read(['floors'])
  if (typeof floor === 'number' && typeof floors === 'number' && floor >= floors) {
    add(
      ['openings', index, 'at', 'floor'],
      'value',
      'floor',
      `${who}: The house has ${floors} ${floors === 1 ? 'floor' : 'floors'}, counted from 0; floor ${floor} lies above them: change it, or floors`,
    )
  }
}

/** The sender exists, and fits what the opening says of a cell. */
export function useRules({ read, root, sendersWhole, add }: RuleContext, { who, index }: Named): void {
  const path: Path = ['openings', index, 'sender']
  const sender = textOf(read(path))
  if (sender === undefined || root.senders === undefined || !sendersWhole) return
  if (valueAt(root, ['senders', sender]) === undefined) {
    add(path, 'value', 'sender-unknown', () => {
      const names = namesIn(root.senders)
      const meant = nearest(sender, names.slice(0, 100))
      const known = names.length ? `use one of ${names.slice(0, 8).map(tame).join(', ')}` : 'add it under senders'
      return `${who}: A sender is one of those under senders; ${shown(sender)} is not there: ${meant ? `did you mean ${tame(meant)}?` : known}`
    })
  } else if (read(['senders', sender, 'power']) === 'mains' && read(['openings', index, 'cellFitted']) !== undefined) {
    add(
      ['openings', index, 'cellFitted'],
      'key',
      'cell-on-mains',
      `${who}: A contact on mains has no cell; cellFitted is not used: take it out, or change the sender`,
      'warning',
    )
  }
}
