import { expect, it } from 'vitest'
import { BootWatch } from '../../src/keeper/session/boot-watch.ts'
import { startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'

const word = (n: number, boots: number): Entry => ({
  id: `e${n}-${boots}`,
  at: '2026-06-01T08:00:00.000Z',
  mark: `W${n}`,
  what: 'opened',
  how: 'queued',
  boots,
})

it('boots that nobody heard of many openings are one sentence that a person reads', () => {
  const watch = new BootWatch(startLedger({}))
  const all = Array.from({ length: 300 }, (_, n) => n)
  expect(watch.look(all.map(n => word(n, 1)))).toBeUndefined()
  const { sentence, marks } = watch.look(all.map(n => word(n, 3)))!
  expect(sentence).toMatch(/^W0 booted 1 time more than was heard, .* and 297 more while the keeper was away/)
  expect(sentence.length).toBeLessThan(400)
  expect(marks).toEqual(all.slice(0, 100).map(n => `W${n}`))
})
