import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { HOUSE } from '../keeper/bench-house.ts'
import { builtCommand } from '../support/built.ts'

/** Blocks of 512 or 1,024 bytes, by the shell: no file may grow beyond. */
const LITTLE = 20

describe('a disk that is full when a command starts', () => {
  let command: Awaited<ReturnType<typeof builtCommand>>
  let folder: string
  const run = (limit: number | 'unlimited', ...argv: string[]) => {
    const script = `ulimit -f ${limit}; exec "$@"`
    return spawnSync('sh', ['-c', script, 'sh', process.execPath, command.path, ...argv], { encoding: 'utf8' })
  }

  beforeAll(async () => {
    command = await builtCommand()
    folder = mkdtempSync(join(tmpdir(), 'sashtally-full-'))
    writeFileSync(join(folder, 'house.yaml'), HOUSE)
    const entries = Array.from({ length: 400 }, (_, n) => ({
      ...{ id: `e${n}`, at: '2026-06-01T08:00:00.000Z', mark: 'W01', what: 'opened', how: 'live' },
    }))
    writeFileSync(join(folder, 'entries.jsonl'), entries.map(each => `${JSON.stringify(each)}\n`).join(''))
  })
  afterAll(() => {
    command.remove()
    rmSync(folder, { recursive: true, force: true })
  })
  const house = () => join(folder, 'house.yaml')
  const data = () => join(folder, 'data')

  it('is a sentence and exit 3 where a tally is made, and where one is mended or added to; nothing is lost', () => {
    const entries = join(folder, 'entries.jsonl')
    const none = run(LITTLE, 'import', house(), entries, '--data', join(folder, 'new'))
    expect([none.status, none.stderr.split('\n').length, none.stderr]).toEqual([3, 2, expect.stringMatching(SENTENCE)])
    expect(run('unlimited', 'import', house(), entries, '--data', data()).status).toBe(0)
    const file = join(data(), 'tally.sqlite')
    const before = readFileSync(file)
    for (const argv of [
      ['mend', '--data', data()],
      ['keep', house(), '--data', data()],
    ]) {
      const ended = run(LITTLE, ...argv)
      expect([argv[0], ended.status, ended.stderr]).toEqual([argv[0], 3, expect.stringMatching(SENTENCE)])
      expect(ended.stderr).not.toMatch(/goes on by itself| at .*:\d+:\d+/)
    }
    expect(readFileSync(file).equals(before)).toBe(true)
    expect(run('unlimited', 'mend', '--data', data()).stdout).toMatch(/sound, 400 entries/)
  })
})

const SENTENCE = /^sashtally: .*: (the disk is full|the disk refused it|the system refuses it)/
