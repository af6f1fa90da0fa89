import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { HOUSE } from '../keeper/bench-house.ts'
import { fakeWorld } from '../support/world.ts'

const SEEN = '{"id":"a1","at":"2026-06-01T06:00:00.000Z","mark":"W01","what":"seen-closed","how":"said"}\n'

test('what was shut in a store that was mended is not certain until a keeper has begun on it', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-mended-'))
  try {
    mkdirSync(join(folder, 'copies'))
    writeFileSync(join(folder, 'house.yaml'), HOUSE)
    writeFileSync(join(folder, 'seen.jsonl'), SEEN)
    const run = async (...args: string[]) => {
      const world = fakeWorld({ cwd: folder })
      expect(await cli(args, world), world.said.stderr).toBeLessThan(2)
      return world.said.stdout
    }
    const row = async () => JSON.parse(await run('tally', 'house.yaml', '--data', 'data', '--json')).readings[0]
    await run('import', 'house.yaml', 'seen.jsonl', '--data', 'data')
    await run('export', 'house.yaml', '--data', 'data', '--backup', 'copies/tally-2026-06-01.sqlite')
    expect(await row()).toMatchObject({ position: 'closed' })
    expect(await row()).not.toHaveProperty('unheard')
    truncateSync(join(folder, 'data/tally.sqlite'), 12_000)
    await run('mend', '--data', 'data', '--backups', 'copies')
    expect(await row()).toHaveProperty('unheard')
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
})
