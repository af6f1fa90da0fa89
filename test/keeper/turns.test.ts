import { expect, it } from 'vitest'
import { Disk } from '../../src/keeper/disk.ts'
import type { TallyStore } from '../../src/keeper/store/store.ts'
import { inTurn, turnOf } from '../../src/keeper/turns.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import { pause } from '../support/until.ts'
import { TestClock } from './fake-broker.ts'

const busy = (milliseconds: number): void => {
  const end = performance.now() + milliseconds
  while (performance.now() < end);
}

it('work that many want to do at once is done in its order, and others have the event loop in between', async () => {
  const done: number[] = []
  let ticks = 0
  const timer = setInterval(() => ticks++, 1)
  await Promise.all(
    Array.from({ length: 60 }, (_, n) =>
      turnOf(() => {
        busy(5)
        done.push(n)
      }),
    ),
  )
  clearInterval(timer)
  expect(done).toEqual([...done].sort((a, b) => a - b))
  expect(done).toHaveLength(60)
  // 300 ms of work, 10 a turn: without turns there would be none.
  expect(ticks).toBeGreaterThan(15)
})

it('what is cancelled before its turn is not done', async () => {
  let ran = 0
  const cancel = inTurn(() => ran++)
  inTurn(() => ran++)
  cancel()
  await pause(20)
  expect(ran).toBe(1)
})

it('the same work may wait twice', async () => {
  let ran = 0
  const work = () => void ran++
  inTurn(work)
  inTurn(work)
  await pause(20)
  expect(ran).toBe(2)
})

it('work that throws fails alone', async () => {
  const failing = turnOf(() => {
    throw new Error('no')
  })
  const next = turnOf(() => 'done')
  await expect(failing).rejects.toThrow('no')
  expect(await next).toBe('done')
})

it('houses whose flushes end together answer in turn', async () => {
  const told: string[] = []
  const store = { answered: () => told.push('answered') } as unknown as TallyStore<Ledger>
  const disks = [1, 2].map(
    () => new Disk({ store, clock: new TestClock('2026-03-02T08:00:00Z'), waits: 'beside', trouble: () => {} }),
  )
  const flushed = Promise.resolve()
  // What comes from outside.
  let isOver = false
  const outside = (): void => {
    told.push('outside')
    if (!isOver) setImmediate(outside)
  }
  outside()
  for (const disk of disks) {
    disk.whenWritten(flushed, () => {
      busy(11)
      told.push('kept')
    })
  }
  await Promise.all(disks.map(disk => disk.written))
  isOver = true
  expect(
    told
      .join(' ')
      .replace(/(outside ?)+/g, '- ')
      .trim(),
  ).toBe('- answered kept - answered kept')
})
