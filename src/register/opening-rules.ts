import { nearest } from '../text/nearest.ts'
import { shown, tame } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import { namesIn, type RuleContext, textOf, valueAt } from './rule-context.ts'

/** The opening a rule speaks of. */
interface Named {
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

/** No two contacts join with one fixed address. */
export function addressRules({ read, add }: RuleContext, contacts: readonly Named[]): void {
  const first = new Map<string, Named>()
  for (const contact of contacts) {
    const own: Path = ['openings', contact.index, 'wifi', 'address']
    const shared: Path = ['senders', textOf(read(['openings', contact.index, 'sender'])) ?? '', 'wifi', 'address']
    const everyone: Path = ['wifi', 'address']
    const address = textOf(read(own)) ?? textOf(read(shared)) ?? textOf(read(everyone))
    if (address === undefined) continue
    const other = first.get(address)
    if (!other) first.set(address, contact)
    else
      add(
        [own, shared, everyone].find(path => read(path) !== undefined) ?? own,
        'value',
        'ip-address-twice',
        `${other.who} and ${contact.who} join with the same fixed address ${address}: one of them drops out when both are awake, give each opening its own wifi address`,
        'warning',
      )
  }
}

const COIN = /^[BC]R\d{4}/i

/** Repeats cost a coin cell its openings. */
export function repeatRules({ read, add }: RuleContext, contacts: readonly Named[]): void {
  const warned = new Set<string>()
  for (const { index } of contacts) {
    const sender = textOf(read(['openings', index, 'sender'])) ?? ''
    const cell = textOf(read(['senders', sender, 'cell']))
    if (cell === undefined || !COIN.test(cell)) continue
    const sites: Path[] = [
      ['openings', index, 'repeatSeconds'],
      ['senders', sender, 'repeatSeconds'],
      ['repeatSeconds'],
    ]
    const site = sites.find(path => read(path) !== undefined)
    if (!site || warned.has(site.join('/'))) continue
    warned.add(site.join('/'))
    add(
      site,
      'key',
      'repeat-on-coin-cell',
      `Each repeat spends a send, and a coin cell has few of them (a CR2032 about 20 cold joins): take repeatSeconds out for contacts on a coin cell such as ${shown(cell)}`,
      'warning',
    )
  }
}
