import { expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { fakeWorld } from '../support/world.ts'

const run = async (...argv: string[]) => {
  const world = fakeWorld()
  return { exit: await cli(argv, world), ...world.said }
}

test('help says what --help says, of all commands and of one', async () => {
  for (const [asked, same] of [
    [['help'], ['--help']],
    [
      ['help', 'prove'],
      ['prove', '--help'],
    ],
    [
      ['help', 'emit', 'hub'],
      ['emit', 'hub', '--help'],
    ],
  ] as const) {
    const { exit, stdout } = await run(...asked)
    expect(exit).toBe(0)
    expect(stdout).not.toBe('')
    expect(stdout).toBe((await run(...same)).stdout)
  }
})
test('help for a command that there is not is wrong use', async () => {
  expect(await run('help', 'proof')).toMatchObject({ exit: 2, stdout: '' })
})
test('the help of a command ends with its account and the next step', async () => {
  expect((await run('help', 'prove')).stdout).toMatch(
    /\nAccount at the broker: bench\.\nNext: sashtally manual fitting.*\n$/,
  )
})
