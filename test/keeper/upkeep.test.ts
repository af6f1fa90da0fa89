import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { Upkeep } from '../../src/keeper/repair/upkeep.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { until } from '../support/until.ts'
import { listing, opened, tempFolder } from './folder.ts'

const DAY = 86_400_000

function kept(count: number) {
  const folder = tempFolder()
  const store = TallyStore.open(folder, 'write', listing)
  store.commitBatch({ entries: Array.from({ length: count }, (_, n) => opened(n)) })
  let passed = 0
  const standing = new Map<string, string | undefined>()
  const backups = { folder: join(tempFolder(), 'backups'), keep: 2 }
  const upkeep = new Upkeep({
    store,
    folder,
    backups,
    clock: {
      now: () => Date.UTC(2026, 5, 2) + passed,
      monotonic: () => passed,
      awake: () => passed,
      up: () => 0,
      after: () => () => {},
      tick: () => () => {},
    },
    tell: () => {},
    standing: (name, text) => standing.set(name, text),
  })
  const pass = (milliseconds: number): void => {
    passed += milliseconds
  }
  return { folder, store, standing, backups, upkeep, pass }
}

it('a backup is made every day, by itself', async () => {
  const { upkeep, backups, pass, store } = kept(10)
  for (const day of ['02', '03', '04']) {
    upkeep.beat(false)
    await until(`the backup of the ${day}`, () => readdirSync(backups.folder).includes(`tally-2026-06-${day}.sqlite`))
    // A second beat on the same day makes none.
    await until('the upkeep to be done', () => {
      upkeep.beat(false)
      return upkeep.backedUpAt
    })
    pass(DAY)
  }
  expect(readdirSync(backups.folder)).toEqual(['tally-2026-06-03.sqlite', 'tally-2026-06-04.sqlite'])
  await store.close()
})

it('in a quiet hour of every day the whole tally is looked through, and what does not fit stands on the state', async () => {
  const { upkeep, folder, standing, pass, backups } = kept(3_000)
  upkeep.beat(true)
  await until('the first backup', () => readdirSync(backups.folder).length > 0)
  openSqlite(join(folder, 'tally.sqlite'), 'write').exec(`update entries set mark = 'W08' where seq = 1234`)
  pass(DAY - 3_600_000)
  upkeep.beat(true)
  expect(standing.get('store')).toBeUndefined()
  pass(3_600_000 - 1)
  await until('the look', () => {
    pass(1)
    upkeep.beat(true)
    return standing.get('store')
  })
  expect(standing.get('store')).toBe('entry 1234 is not what was kept: end the keeper and run `sashtally mend`')
  // What is not what was kept is no backup either.
  await until('the word on the backup', () => {
    upkeep.beat(true)
    return standing.get('backup')
  })
  expect(standing.get('backup')).toMatch(/no backup: .*entry 1234 is not what was kept/)
})

it('a disk that is nearly full is told before it is, until room is made', () => {
  const { upkeep, standing } = kept(5)
  upkeep.beat(false)
  expect(standing.get('disk')).toBeUndefined()
  let left = 20_500_000
  Object.defineProperty(upkeep, 'diskLeft', { get: () => left })
  upkeep.beat(false)
  expect(standing.get('disk')).toBe('the disk is nearly full: 20 MB left; free some space')
  left = 500_000_000
  upkeep.beat(false)
  expect(standing.get('disk'), 'room was made').toBeUndefined()
})
