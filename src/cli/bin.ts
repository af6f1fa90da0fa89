#!/usr/bin/env node
import { createInterface } from 'node:readline'
import { Writable } from 'node:stream'
import { text } from 'node:stream/consumers'
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

function ask(question: string, { secret = false } = {}): Promise<string> {
  if (!process.stdin.isTTY) return Promise.reject(new NoTerminal(question))
  process.stderr.write(question)
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() })
  const lines = createInterface({ input: process.stdin, output: secret ? silent : process.stderr, terminal: true })
  return new Promise((done, failed) => {
    lines.once('SIGINT', () => process.kill(process.pid, 'SIGINT'))
    stopping.signal.addEventListener('abort', () => lines.close(), { once: true })
    lines.once('close', () => failed(new NoTerminal(question)))
    lines.once('line', line => {
      done(line)
      lines.close()
      if (secret) process.stderr.write('\n')
    })
  })
}

const world: World = {
  stdout: sink(process.stdout),
  stderr: sink(process.stderr),
  env: process.env,
  cwd: process.cwd(),
  now: Date.now,
  ask,
  signal: stopping.signal,
  readStdin: () => text(process.stdin),
}

process.exitCode = await cli(process.argv.slice(2), world)
