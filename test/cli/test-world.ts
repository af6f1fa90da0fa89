import { NoTerminal, type World } from '../../src/cli/world.ts'

/** A world without a terminal that keeps what was written. */
export interface TestWorld extends World {
  out(): string
  err(): string
}

export function testWorld(given: { cwd?: string; now?: number } = {}): TestWorld {
  let out = ''
  let err = ''
  const sink = (take: (text: string) => void) => ({ write: take, isTTY: false, columns: 100 })
  return {
    stdout: sink(text => {
      out += text
    }),
    stderr: sink(text => {
      err += text
    }),
    env: {},
    cwd: given.cwd ?? process.cwd(),
    now: () => given.now ?? Date.parse('2026-11-25T21:47:00.000Z'),
    ask: question => Promise.reject(new NoTerminal(question)),
    signal: new AbortController().signal,
    readStdin: () => Promise.resolve(new Uint8Array(0)),
    out: () => out,
    err: () => err,
  }
}
