import { execFile } from 'node:child_process'
import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { promisify } from 'node:util'
import pixelmatch from 'pixelmatch'
import { PNG } from 'pngjs'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { needs } from '../support/missing.ts'

const reviewed = new URL('pictures/', import.meta.url).pathname
const script = new URL('shots.mjs', import.meta.url).pathname
const names = (await readdir(reviewed)).filter(name => name.endsWith('.png'))
/** Share of the pixels that may differ: letters are set a little otherwise from one machine to the next. */
const TOLERANCE = 0.004

const chromium = needs('chromium')

describe.skipIf(chromium.skip)(chromium.title('the sheet as it was last looked at'), () => {
  let folder = ''
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'sash-pictures-'))
    await promisify(execFile)(process.execPath, [script, folder, 'reviewed'])
  })
  afterAll(() => rm(folder, { recursive: true, force: true }))

  test.each(names)('%s', async name => {
    const [before, now] = await Promise.all(
      [reviewed, folder].map(async place => PNG.sync.read(await readFile(join(place, name)))),
    )
    expect([now!.width, now!.height]).toEqual([before!.width, before!.height])
    const { width, height } = before!
    const differ = pixelmatch(before!.data, now!.data, undefined, width, height, { threshold: 0.2 })
    expect(
      differ / (width * height),
      `if it is meant: node test/card/shots.mjs test/card/pictures reviewed`,
    ).toBeLessThan(TOLERANCE)
  })
})
