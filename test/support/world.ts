import { resolve } from 'node:path'
import { NoTerminal, type World } from '../../src/cli/world.ts'

/** A world that keeps what is written to it. */
export interface FakeWorld extends World {
  readonly said: { stdout: string; stderr: string }
  /** Ctrl-C. */
  interrupt(): void
}

export function fakeWorld(given: Partial<World> = {}): FakeWorld {
  const said = { stdout: '', stderr: '' }
  const stopping = new AbortController()
  const sink = (name: 'stdout' | 'stderr') => ({
    write: (text: string) => {
      said[name] += text
    },
    isTTY: false,
    columns: 100,
  })
  return {
    stdout: sink('stdout'),
    stderr: sink('stderr'),
    env: {},
    cwd: resolve('.'),
    now: Date.now,
    ask: question => Promise.reject(new NoTerminal(question)),
    signal: stopping.signal,
    readStdin: () => Promise.resolve(new Uint8Array(0)),
    said,
    interrupt: () => stopping.abort(),
    ...given,
  }
}
