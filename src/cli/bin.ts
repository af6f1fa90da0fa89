#!/usr/bin/env node
import { createInterface } from 'node:readline'
import { Writable } from 'node:stream'
import { buffer } from 'node:stream/consumers'
import { cli } from './cli.ts'
import { NoTerminal, type Sink, type World } from './world.ts'

const stopping = new AbortController()
let asked = 0
for (const name of ['SIGINT', 'SIGTERM'] as const) {
  process.on(name, () => {
    if (asked++) process.exit(130)
    stopping.abort()
  })
}
for (const stream of [process.stdout, process.stderr]) {
  stream.on('error', (error: NodeJS.ErrnoException) => process.exit(error.code === 'EPIPE' ? 0 : 3))
}

const sink = (stream: NodeJS.WriteStream): Sink => ({
  write: line => void stream.write(line),
  isTTY: stream.isTTY === true && process.env.NO_COLOR === undefined,
  columns: stream.columns || 100,
})

/** Lines that were typed or pasted ahead of their questions. */
const ahead: string[] = []

function ask(question: string, { secret = false } = {}): Promise<string> {
  if (!process.stdin.isTTY) return Promise.reject(new NoTerminal(question))
  const early = secret ? undefined : ahead.shift()
  if (early !== undefined) {
    process.stderr.write(`${question}${early}\n`)
    return Promise.resolve(early)
  }
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() })
  const lines = createInterface({ input: process.stdin, output: secret ? silent : process.stderr, terminal: true })
  // Only now: what is typed at the question is no longer echoed by the terminal.
  process.stderr.write(question)
  return new Promise((done, failed) => {
    let answer: string | undefined
    const stop = () => lines.close()
    stopping.signal.addEventListener('abort', stop, { once: true })
    lines.once('SIGINT', () => process.kill(process.pid, 'SIGINT'))
    lines.on('line', line => {
      if (answer !== undefined) ahead.push(line)
      else {
        answer = line
        // The rest of what came at once is read before it closes.
        setImmediate(stop)
      }
    })
    lines.once('close', () => {
      stopping.signal.removeEventListener('abort', stop)
      if (secret) process.stderr.write('\n')
      if (answer === undefined) failed(new NoTerminal(question))
      else done(answer)
    })
  })
}

let input: Promise<Uint8Array> | undefined

const world: World = {
  stdout: sink(process.stdout),
  stderr: sink(process.stderr),
  env: process.env,
  cwd: process.cwd(),
  now: Date.now,
  ask,
  signal: stopping.signal,
  readStdin: () => {
    input ??= buffer(process.stdin)
    return input
  },
}

process.exitCode = await cli(process.argv.slice(2), world)
