import { copyFileSync, readlinkSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, vi } from 'vitest'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import type { TallyStore } from '../../src/keeper/store/store.ts'
import { TallyStore as Store } from '../../src/keeper/store/store.ts'
import { StoreProblem } from '../../src/keeper/store/store-problem.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import { until } from '../support/until.ts'
import { BenchHouse, registerOf } from './bench-house.ts'
import { settle } from './fake-broker.ts'
import { listing, opened, tempFolder } from './folder.ts'

const flushed = vi.hoisted(() => [] as number[])
vi.mock('node:fs', async original => {
  const fs = await original<typeof import('node:fs')>()
  const fsync: typeof fs.fsync = Object.assign((file: number, done: Parameters<typeof fs.fsync>[1]) => {
    flushed.push(file)
    fs.fsync(file, done)
  })
  return { ...fs, fsync }
})

const word = (boots: number) => `{"word":"opened","boots":${boots}}`
const BROKEN = new StoreProblem('input-output', '/data/tally.sqlite: the disk refused it')

/** Bytes in the log of a tally. */
const inLog = (folder: string): number =>
  statSync(join(folder, 'tally.sqlite-wal'), { throwIfNoEntry: false })?.size ?? 0

/** Another program looks at the tally. @returns ends that */
function reading(folder: string): () => void {
  const reader = openSqlite(join(folder, 'tally.sqlite'), 'read')
  reader.exec('begin')
  reader.prepare('select count(*) from entries').get([])
  return () => {
    reader.exec('commit')
    reader.close()
  }
}

/** Lets time go on, and the disk its own. */
const passing = (house: BenchHouse, what: string, look: () => boolean, seconds = 0.01): Promise<unknown> =>
  until(what, async () => {
    await house.clock.pass(seconds)
    return look()
  })

const keptAll = (house: BenchHouse, count: number): Promise<unknown> =>
  passing(house, `${count} words acknowledged`, () => house.feed.acked === count)

/** A house whose disk answers when it is let. */
class SlowDisk {
  readonly house = new BenchHouse()
  commits = 0
  /** Commits that kept the event loop until the disk had answered. */
  waited = 0
  #waiting: (() => void)[] = []
  isSlow = false
  /** From the next opened word on it is slow. */
  isSlowFromWords = false
  /** How often what was committed cannot be flushed. */
  failures = 0
  settled = 0

  async begin(): Promise<void> {
    await this.house.start({ waits: 'beside' }, store => this.#slow(store))
  }

  async start(): Promise<BenchHouse> {
    await this.begin()
    await passing(this.house, 'the link', () => this.house.state()?.state === 'live')
    return this.house
  }

  #slow(store: TallyStore<Ledger>): TallyStore<Ledger> {
    const [commit, moveIn] = [store.commitBeside.bind(store), store.settle.bind(store)]
    const commitAndWait = store.commitBatch.bind(store)
    store.commitBatch = batch => {
      this.waited++
      commitAndWait(batch)
    }
    store.commitBeside = batch => {
      const written = commit(batch)
      this.commits++
      this.isSlow ||= this.isSlowFromWords && batch.entries.some(({ what }) => what === 'opened')
      const answers = this.isSlow ? new Promise<void>(done => this.#waiting.push(done)) : Promise.resolve()
      return answers.then(() => {
        if (this.failures-- > 0) throw BROKEN
        return written
      })
    }
    store.settle = () => {
      this.settled++
      if (this.failures-- > 0) throw BROKEN
      moveIn()
    }
    return store
  }

  /** From now on, and a word of W03 is on its way. */
  async slow(): Promise<void> {
    this.isSlow = true
    await this.house.say('ropewalk/w03', word(1))
    await this.onTheWay('W03')
  }

  onTheWay(mark: string): Promise<unknown> {
    const isWritten = () => this.#waiting.length > 0 && this.house.entries(mark).length > 0
    return passing(this.house, 'a commit', isWritten)
  }

  answer(): void {
    for (const done of this.#waiting.splice(0)) done()
  }
}

describe('a commit that waits for the disk beside the event loop', () => {
  it('acknowledges and publishes nothing before it is there, while time and messages go on', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    await disk.slow()
    await house.say('ropewalk/w01', 'opened')
    for (let n = 2; n <= 60; n++) house.broker.publish('ropewalk/w03', word(n))
    await house.clock.pass(60)
    expect(house.feed.acked).toBe(0)
    expect(house.reading('W01')).toMatchObject({ position: 'no-word' })
    expect(house.keeper.state().readings.get('W01')).toMatchObject({ position: 'no-word' })
    expect(house.keeper.health.health().waiting).toBe(61)
    const before = disk.commits
    disk.isSlow = false
    disk.answer()
    await keptAll(house, 61)
    expect(disk.commits - before, 'what came meanwhile shares one').toBeLessThan(9)
    expect(house.entries('W03').map(({ boots }) => boots)).toEqual(Array.from({ length: 60 }, (_, n) => n + 1))
    expect(house.reading('W01')).toMatchObject({ position: 'opened', openings: 1 })
  })

  it('of what had waited comes before anything is published: no wall shows a house as it was', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    await house.say('ropewalk/w01', 'opened')
    await keptAll(house, 1)
    await house.person('W01', { id: 'shut', what: 'seen-closed' })
    await passing(house, 'the look', () => house.reading('W01')?.position === 'closed')
    house.kill()
    house.broker.publish('ropewalk/w01', 'opened')
    disk.isSlowFromWords = true
    await disk.begin()
    await disk.onTheWay('W01')
    await house.clock.pass(60)
    expect(house.state()?.state).toBe('gone')
    disk.isSlowFromWords = disk.isSlow = false
    disk.answer()
    await passing(house, 'the keeper', () => house.state()?.state === 'live')
    expect(house.reading('W01')).toMatchObject({ position: 'opened', openings: 2 })
    expect(house.feed.acked).toBe(1)
  })

  it('takes what is remembered of an alert, and tells the next one when that is there', async () => {
    const disk = new SlowDisk()
    disk.house.register = { ...registerOf(), alerts: { openLongMinutes: 60 } }
    const house = await disk.start()
    const alerts = () => house.broker.log.filter(({ topic }) => topic === 'ropewalk/tally/alert').length
    await house.say('ropewalk/w01', 'opened')
    await keptAll(house, 1)
    await house.clock.pass(600)
    await house.say('ropewalk/w02', 'opened')
    await keptAll(house, 2)
    const publish = house.feed.publish.bind(house.feed)
    house.feed.publish = (topic, ...rest) => {
      disk.isSlow ||= topic === 'ropewalk/tally/alert' && alerts() === 0
      return publish(topic, ...rest)
    }
    await house.clock.pass(3_000)
    await passing(house, 'the first alert', () => alerts() > 0)
    await house.clock.pass(900)
    expect([alerts(), disk.waited]).toEqual([1, 0])
    disk.isSlow = false
    disk.answer()
    await passing(house, 'the second alert', () => alerts() === 2, 1)
    const remembered = () => Object.keys(JSON.parse(house.store.fact('alerts')!).about['open-long'] ?? {})
    await passing(house, 'what is remembered', () => remembered().length === 2)
    expect(disk.waited).toBe(0)
    house.kill()
    await house.start()
    await house.clock.pass(3_600)
    expect(alerts()).toBe(2)
  })

  it('that the disk refused stands once, and is acknowledged when the log is in the file', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    disk.failures = 3
    await house.say('ropewalk/w03', word(1))
    await passing(house, 'the refusal', () => house.state()?.state === 'broken')
    expect(house.feed.acked).toBe(0)
    await house.say('ropewalk/w03', word(2))
    await house.clock.pass(2)
    expect([disk.settled, house.feed.acked]).toEqual([1, 0])
    await house.clock.pass(8)
    await keptAll(house, 2)
    expect(disk.settled).toBe(3)
    expect(house.entries('W03').map(({ boots }) => boots)).toEqual([1, 2])
    await passing(house, 'the keeper', () => house.state()?.state === 'live')
  })

  it('that the disk refused is not acknowledged while a reader keeps its log from being moved', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    const endReading = reading(house.folder)
    disk.failures = 1
    await house.say('ropewalk/w03', word(1))
    await passing(house, 'the refusal', () => house.state()?.state === 'broken')
    await house.clock.pass(2)
    expect([disk.settled, house.feed.acked]).toEqual([1, 0])
    await house.clock.pass(31)
    expect(house.state()?.problem).toMatch(
      /another program is reading the tally: end that program and it goes on by it/,
    )
    expect([disk.settled > 1, house.feed.acked]).toEqual([true, 0])
    endReading()
    await house.clock.pass(31)
    await keptAll(house, 1)
    expect(house.entries('W03').map(({ boots }) => boots)).toEqual([1])
  })

  it('that a death interrupts counts its word once', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    await disk.slow()
    house.kill()
    await house.start()
    await house.say('ropewalk/w03', word(2))
    expect(house.entries('W03').map(({ boots, maybeAgain }) => [boots, maybeAgain])).toEqual([
      [1, undefined],
      [2, undefined],
    ])
    expect(house.feed.acked).toBe(2)
  })

  it('is waited for when the keeper ends, and so is what came behind it', async () => {
    const disk = new SlowDisk()
    const house = await disk.start()
    await disk.slow()
    for (let n = 2; n <= 150; n++) house.broker.publish('ropewalk/w03', word(n))
    await settle()
    let isStopped = false
    const stopped = house.keeper.stop().then(() => {
      isStopped = true
    })
    await settle()
    expect(isStopped).toBe(false)
    disk.isSlow = false
    disk.answer()
    await stopped
    expect(house.entries('W03')).toHaveLength(150)
    expect(house.store.tail).toBe(0)
  })
})

describe('a tally that is flushed apart', () => {
  it('has its log on the disk when the promise says so', async () => {
    const store = Store.open(tempFolder(), 'write', listing)
    flushed.splice(0)
    const written = store.commitBeside({ entries: [opened(1)] })
    expect(store.length).toBe(1)
    await written
    expect(flushed).toHaveLength(1)
    expect(readlinkSync(`/proc/self/fd/${flushed[0]}`)).toMatch(/tally\.sqlite-wal$/)
    await store.close()
  })

  it('is one file as soon as it is closed, where nothing is on its way to the disk', async () => {
    const folder = tempFolder()
    const store = Store.open(folder, 'write', listing)
    await store.commitBeside({ entries: [opened(1)] })
    const closed = store.close()
    expect(inLog(folder)).toBe(0)
    await closed
  })

  it('is closed after what is on its way', async () => {
    const folder = tempFolder()
    const store = Store.open(folder, 'write', listing)
    const written = store.commitBeside({ entries: [opened(1)] })
    const closed = store.close()
    expect(inLog(folder)).toBeGreaterThan(0)
    await written
    await closed
    expect(inLog(folder)).toBe(0)
  })

  it('throws at once what it does not take', async () => {
    const store = Store.open(tempFolder(), 'write', listing)
    store.commitBatch({ entries: [opened(1)] })
    expect(() => store.commitBeside({ entries: [opened(1)] })).toThrow()
    expect(store.length).toBe(1)
    await store.close()
  })

  it('moves its log into its file where that could not be flushed', async () => {
    const folder = tempFolder()
    const store = Store.open(folder, 'write', listing)
    await store.commitBeside({ entries: [opened(1)] })
    store.settle()
    store.commitBatch({ entries: [opened(2)] })
    await store.close()
    const again = Store.open(folder, 'read', listing)
    expect([...again.entries()].map(({ id }) => id)).toEqual(['e1', 'e2'])
    await again.close()
  })

  it('says that its log is not in its file while another connection reads what was there before', async () => {
    const folder = tempFolder()
    const store = Store.open(folder, 'write', listing)
    const endReading = reading(folder)
    await store.commitBeside({ entries: [opened(1)] })
    expect(() => store.settle()).toThrow(expect.objectContaining({ fault: 'busy' }))
    endReading()
    store.settle()
    const log = statSync(`${join(folder, 'tally.sqlite')}-wal`)
    expect(log.size, 'nothing of the log is read over what was moved').toBe(0)
    // What the file holds by itself, as after a loss of power.
    const copy = join(folder, 'copy.sqlite')
    copyFileSync(join(folder, 'tally.sqlite'), copy)
    const alone = openSqlite(copy, 'read')
    expect(alone.prepare('select count(*) as n from entries').get([])).toMatchObject({ n: 1 })
    alone.close()
    await store.close()
  })
})
