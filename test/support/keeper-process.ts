import { type ChildProcess, spawn } from 'node:child_process'
import { until } from './until.ts'

/** `sashtally keep` as a process of its own, to be killed or stopped from outside. */
export class KeeperProcess {
  readonly #command: string
  readonly #argv: readonly string[]
  #child: ChildProcess | undefined
  #log = ''

  /** @param command - file that Node runs */
  constructor(command: string, register: string, data: string, ...more: readonly string[]) {
    this.#command = command
    this.#argv = ['keep', register, '--data', data, ...more]
  }

  /** What the present process has said. */
  get log(): string {
    return this.#log
  }

  get processId(): number | undefined {
    return this.#child?.pid
  }

  get hasEnded(): boolean {
    return this.#child?.exitCode != null
  }

  /** Also by a signal. */
  get isDead(): boolean {
    return this.hasEnded || this.#child?.signalCode != null
  }

  start(): void {
    this.#log = ''
    const child = spawn(process.execPath, [this.#command, ...this.#argv], { stdio: ['ignore', 'pipe', 'pipe'] })
    this.#child = child
    const take = (text: Buffer) => {
      if (this.#child === child) this.#log = (this.#log + text.toString()).slice(-20_000)
    }
    child.stdout.on('data', take)
    child.stderr.on('data', take)
  }

  /** Waits until it listens. */
  async live(seconds = 120): Promise<void> {
    const isLive = () => /keeping|link is back/.test(this.#log) || this.hasEnded
    await until('the keeper to listen', isLive, seconds).catch(error => {
      throw new Error(`${error.message}; it said:\n${this.#log}`)
    })
    this.mustRun()
  }

  mustRun(): void {
    if (this.hasEnded) throw new Error(`the keeper ended by itself (${this.#child?.exitCode}):\n${this.#log}`)
  }

  /** Its socket goes on taking what the broker sends, and nobody reads it. */
  freeze(): void {
    this.#child?.kill('SIGSTOP')
  }

  thaw(): void {
    this.#child?.kill('SIGCONT')
  }

  /** Ends it at once. */
  async kill(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const child = this.#child
    if (!child || child.exitCode !== null || child.signalCode !== null) return
    const ended = new Promise(done => child.once('exit', done))
    child.kill(signal)
    await ended
  }
}
