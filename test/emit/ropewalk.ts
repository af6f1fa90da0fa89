import { expect } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import type { Register } from '../../src/register/types.ts'

/** A register of Ropewalk Studios with the given opening lines; fails the test when it has errors. */
export function house(openings: readonly string[], more = ''): Register {
  const text = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
  ladder: { reports: openings, cell: CR2450, words: { opened: opened, rest: asleep }, json: { word: /word/now, boots: /boots } }
${more}openings:
${openings.map(line => `  - ${line}`).join('\n')}
`
  const { register, problems } = parseRegister(text)
  expect(problems.filter(problem => problem.severity === 'error')).toEqual([])
  return register!
}

export const W01 = `{ mark: W01, name: 'Dye room, south', room: Dye room, kind: sash, sender: coin, client: rww01, at: { side: south, floor: 0 } }`
export const W02 = `{ mark: W02, name: Loft, sender: coin }`
export const D01 = `{ mark: D01, name: Street door, room: Entrance, kind: door, sender: yard, at: { side: south, floor: 0 } }`
