import { nearest } from '../text/nearest.ts'
import { shown } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import type { Named } from './opening-rules.ts'
import { type RuleContext, textOf, valueAt, whose } from './rule-context.ts'
import { BUILT_IN_CELLS } from './types.ts'

// Rules of craft: what works, and will be regretted. All are warnings, which a wall does not show.

const CELLS: readonly string[] = BUILT_IN_CELLS
/** Words that other subscribers, people and programs, take for a closed window. */
export const SAYS_CLOSED =
  /^(?:0|no|off|false|ok|safe|zu|dicht)$|(?:^|[^\p{L}])(?:closed?|shut|locked|secured?|geschlossen|ferm[ée]e?|cerrad[oa]|chius[oa]|fechad[oa]|gesloten|lukket|stängd|suljettu|zamkni[ęe]te|zavřeno|закрыт[оа]?|κλειστό|關閉|关闭|閉|닫힘)(?:$|[^\p{L}])/iu

/** Words of a contact that falls silent: they say nothing of the window. */
const SAYS_NOTHING =
  /^(?:asleep|sleep(?:ing)?|at rest|rest(?:ing)?|idle|lost|gone|away|silent|quiet|unknown|schläft|weg)$/iu

/** A kind of contact that works, and misleads or costs more than it must. */
export function senderCraft({ read, root, add }: RuleContext, name: string): void {
  const here = (...path: string[]): Path => ['senders', name, ...path]
  const lead = `${whose(root, here())}: `
  const cell = read(here('cell'))
  if (typeof cell === 'string' && !CELLS.includes(cell)) {
    const meant = nearest(cell, CELLS)
    add(
      here('cell'),
      'value',
      'cell-unknown',
      `${lead}What is left can be told for ${CELLS.join(', ')}; there are no figures for ${shown(cell)}: ${meant ? `did you mean ${meant}?` : 'its openings are only counted'}`,
      'warning',
    )
  }
  if (read(here('power')) === 'mains' && valueAt(root, here('load')) !== undefined) {
    add(
      here('load'),
      'key',
      'load-on-mains',
      `${lead}A load is what a cell must carry; on mains it is not used: take it out`,
      'warning',
    )
  }
  if (read(here('qos')) === 0) {
    add(
      here('qos'),
      'value',
      'qos-0',
      `${lead}At QoS 0 a word can be lost on the way and no one can know: write qos: 1`,
      'warning',
    )
  }
  for (const key of ['closed', 'rest', 'gone']) {
    const word = read(here('words', key))
    if (typeof word !== 'string') continue
    if (key === 'closed' && SAYS_NOTHING.test(word.trim())) {
      add(
        here('words', key),
        'value',
        'closed-says-nothing',
        `${lead}A closed word is believed: everything that stands on it is called shut; ${shown(word)} reads like the word of a last will, which comes shut or not: if it is one, this contact reports openings only and it is its rest word`,
        'warning',
      )
    }
    if ((key === 'rest' || key === 'gone') && SAYS_CLOSED.test(word.trim())) {
      add(
        here('words', key),
        'value',
        'rest-says-closed',
        `${lead}The ${key} word comes by itself when the contact falls silent, shut or not; ${shown(word)} makes any other subscriber believe that it is shut: use a word such as ${key === 'rest' ? 'asleep' : 'lost'}`,
        'warning',
      )
    }
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
