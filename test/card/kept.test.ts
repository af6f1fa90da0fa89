import { expect, test } from 'vitest'
import { credentialsIn, entriesIn, reportIn, topicsIn, walkIn } from '../../src/card/state/kept.ts'
import { planRound } from '../../src/ledger/round.ts'
import { entry } from '../ledger/notation.ts'

const at = '2026-11-25T18:02:00.000Z'
const walk = planRound({
  stops: [
    { mark: 'W02', name: 'Dye room', room: 'Dye room', at: { side: 'south', floor: 0, along: 0.2 }, power: 'cell' },
    { mark: 'D01', name: 'Yard door', power: 'mains' },
  ],
  sides: ['south'],
  startedAt: at,
  provenAt: { W02: at },
  overdue: new Set(),
  leaveOutNatural: true,
})
const report = { at, heard: ['W02'], leftOut: [], missing: ['D01'], failed: ['D01'] }

test('what was kept comes back as it was', () => {
  expect(walkIn(JSON.stringify(walk))).toEqual(walk)
  expect(reportIn(JSON.stringify(report))).toEqual(report)
  const { failed: _, ...older } = report
  expect(reportIn(JSON.stringify(older))).toEqual(older)
  expect(topicsIn('["ropewalk/w02"]')).toEqual(['ropewalk/w02'])
  expect(credentialsIn('{"user":"rosa","password":""}')).toEqual({ user: 'rosa', password: '' })
})

test('of entries that were put by those that cannot count are left out', () => {
  const [good, other] = [entry('18:00 opened L', 'a'), entry('18:01 rest L', 'b')]
  const text = JSON.stringify([good, { ...good, mark: '__proto__' }, null, 7, { ...other, sends: 'x' }])
  expect(entriesIn(text)).toEqual([good, other])
})

test.each([undefined, '', 'x', 'null', '7', '[7]', '{}', '{"user":7}', '{"at":"then","heard":[]}', '{"steps":[{}]}'])(
  'of %j nothing comes back, and nothing throws',
  text => {
    expect([walkIn(text), reportIn(text), topicsIn(text), credentialsIn(text), entriesIn(text)]).toEqual([
      undefined,
      undefined,
      undefined,
      undefined,
      [],
    ])
  },
)
