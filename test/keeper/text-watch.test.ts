import { mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { watchAccount } from '../../src/keeper/houses/account-watch.ts'
import { watchRegister } from '../../src/keeper/houses/register-watch.ts'
import { LOOK_MILLISECONDS } from '../../src/keeper/houses/text-watch.ts'
import { HOUSE } from './bench-house.ts'

let folder: string
let path: string
let watch: { stop(): void }
const told: string[] = []

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-watch-'))
  path = join(folder, 'dye')
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
})
afterEach(() => {
  watch.stop()
  vi.useRealTimers()
  told.length = 0
  rmSync(folder, { recursive: true })
})

/** One look, to its end: then the watch waits for the next. */
async function look(times = 1): Promise<void> {
  for (let n = 0; n < times; n++) {
    vi.advanceTimersByTime(LOOK_MILLISECONDS)
    while (vi.getTimerCount() === 0) await new Promise(done => setImmediate(done))
  }
}

const account = async () => {
  watch = await watchAccount(
    { file: 'dye.account', path },
    { changed: what => told.push(what), unreadable: what => told.push(what) },
  )
}

test('an account file that is away for one look is not gone', async () => {
  writeFileSync(path, 'dye-keeper\nmadder\n')
  await account()
  for (let n = 0; n < 2; n++) {
    renameSync(path, `${path}.away`)
    await look()
    renameSync(`${path}.away`, path)
    await look(2)
  }
  expect(told).toEqual([])
  rmSync(path)
  await look(4)
  expect(told).toEqual(['dye.account is gone'])
  writeFileSync(path, 'dye-keeper\nmadder\n')
  await look(3)
  expect(told).toEqual(['dye.account is gone', 'dye.account came or was edited'])
})

test('an account file that cannot be read is told as that, once, and not as gone', async () => {
  writeFileSync(path, 'dye-keeper\nmadder\n')
  await account()
  writeFileSync(path, Buffer.of(0x64, 0xff))
  await look(5)
  expect(told).toEqual(['dye.account is not UTF-8 text'])
})

test('a good register is told once, however long it stands, and whatever becomes of it', async () => {
  watch = watchRegister(
    { file: path, now: () => 0 },
    { edited: ({ house }) => void told.push(house), broken: why => told.push(why) },
  )
  const named = (house: string) => writeFileSync(path, HOUSE.replace(/^house: .*$/m, `house: ${house}`))
  named('Dye house')
  await look(5)
  expect(told).toEqual(['Dye house'])
  named('Vat house')
  await look(5)
  named('Dye house')
  await look(5)
  expect(told).toEqual(['Dye house', 'Vat house', 'Dye house'])
})
