import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { needs, programPath } from './missing.ts'
import { answers, freePort } from './ports.ts'
import { pause } from './until.ts'

/** Skips, with the reason, where the broker is not installed. */
export const haveMosquitto = needs('mosquitto')

export interface MosquittoOptions {
  /** Keeps sessions and retained messages on disk; `at-once` also through a kill. Default: not at all. */
  readonly persistence?: 'at-once' | 'on-stop'
  /** User names and passwords; absent: everyone may come in. */
  readonly accounts?: Readonly<Record<string, string>>
  /** Text of the access list. */
  readonly access?: string
  /** Further lines of the configuration. */
  readonly lines?: readonly string[]
  /** Makes the whole configuration in the folder, in the place of all of the above; resolves with its path. */
  readonly configure?: (at: { folder: string; mqttPort: number; websocketPort: number }) => Promise<string>
}

/** A real broker in its own folder, on its own ports, which it keeps through stop and start. */
export class Mosquitto {
  readonly #folder: string
  readonly mqttPort: number
  readonly websocketPort: number
  readonly #options: MosquittoOptions
  #file: string
  #process: ChildProcess | undefined
  #log = ''

  private constructor(folder: string, mqttPort: number, websocketPort: number, options: MosquittoOptions) {
    this.#folder = folder
    this.mqttPort = mqttPort
    this.websocketPort = websocketPort
    this.#options = options
    this.#file = join(folder, 'mosquitto.conf')
  }

  static async start(options: MosquittoOptions = {}): Promise<Mosquitto> {
    for (let attempt = 1; ; attempt++) {
      const folder = await mkdtemp(join(tmpdir(), 'sashtally-mosquitto-'))
      const broker = new Mosquitto(folder, await freePort(), await freePort(), options)
      try {
        await broker.#configure()
        await broker.start()
        return broker
      } catch (error) {
        await broker.close()
        if (attempt === 3) throw error
      }
    }
  }

  get mqttUrl(): string {
    return `mqtt://127.0.0.1:${this.mqttPort}`
  }

  get websocketUrl(): string {
    return `ws://127.0.0.1:${this.websocketPort}`
  }

  /** What the broker has logged so far. */
  get log(): string {
    return this.#log
  }

  async #configure(): Promise<void> {
    const { persistence, accounts, access, lines = [], configure } = this.#options
    if (configure) {
      const { mqttPort, websocketPort } = this
      this.#file = await configure({ folder: this.#folder, mqttPort, websocketPort })
      return
    }
    const file = (name: string) => join(this.#folder, name)
    if (access !== undefined) await writeFile(file('access'), access, { mode: 0o600 })
    if (accounts) await this.#writePasswords(accounts)
    const text = [
      // Debian's package starts as root and would change to a user that cannot read this folder.
      process.getuid?.() === 0 ? 'user root' : '',
      'per_listener_settings false',
      `listener ${this.mqttPort} 127.0.0.1`,
      `listener ${this.websocketPort} 127.0.0.1`,
      'protocol websockets',
      `allow_anonymous ${accounts === undefined}`,
      accounts ? `password_file ${file('passwords')}` : '',
      access === undefined ? '' : `acl_file ${file('access')}`,
      persistence ? `persistence true\npersistence_location ${this.#folder}/` : '',
      persistence === 'at-once' ? 'autosave_on_changes true\nautosave_interval 1' : '',
      ...lines,
      'log_dest stderr',
      'log_type error\nlog_type warning\nlog_type notice\nlog_type information',
    ]
    await writeFile(this.#file, `${text.filter(Boolean).join('\n')}\n`)
  }

  async #writePasswords(accounts: Readonly<Record<string, string>>): Promise<void> {
    const file = join(this.#folder, 'passwords')
    const lines = Object.entries(accounts).map(each => `${each.join(':')}\n`)
    await writeFile(file, lines.join(''), { mode: 0o600 })
    const made = spawnSync('mosquitto_passwd', ['-U', file])
    if (made.status !== 0) throw new Error(`mosquitto_passwd: ${made.error?.message ?? made.stderr}`)
  }

  /** Other accounts than those it was started with, from now on. */
  async allow(accounts: Readonly<Record<string, string>>): Promise<void> {
    await this.#writePasswords(accounts)
    this.reload()
  }

  /** Starts it again on the same ports; resolves when it takes connections. */
  async start(): Promise<void> {
    const program = programPath('mosquitto')
    if (!program) throw new Error('mosquitto is not installed: apt-get install mosquitto')
    const child = spawn(program, ['-c', this.#file], { stdio: ['ignore', 'ignore', 'pipe'] })
    this.#process = child
    child.stderr.on('data', (text: Buffer) => {
      this.#log = (this.#log + text.toString()).slice(-200_000)
    })
    for (let tries = 0; tries < 4_000; tries++) {
      if (child.exitCode !== null) break
      if ((await answers(this.mqttPort)) && (await answers(this.websocketPort))) return
      await pause(15)
    }
    throw new Error(`mosquitto did not start:\n${this.#log.slice(-2000)}`)
  }

  /** Ends it as a service manager would (SIGTERM), or at once (SIGKILL). */
  async stop(signal: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
    const child = this.#process
    this.#process = undefined
    if (!child || child.exitCode !== null || child.signalCode !== null) return
    const ended = new Promise(done => child.once('exit', done))
    child.kill(signal)
    // The broker forgets a SIGTERM that comes just before its loop begins, when its ports are open already.
    const again = setInterval(() => child.kill(signal), 500)
    await ended
    clearInterval(again)
  }

  /** Lets it read its password file and access list again (SIGHUP). */
  reload(): void {
    this.#process?.kill('SIGHUP')
  }

  /** Stops the whole process so that connections stay open and nobody answers; `thaw` lets it go on. */
  freeze(): void {
    this.#process?.kill('SIGSTOP')
  }

  thaw(): void {
    this.#process?.kill('SIGCONT')
  }

  /** A copy of what it keeps on disk; only while it is stopped. */
  async store(): Promise<Buffer> {
    return readFile(join(this.#folder, 'mosquitto.db'))
  }

  /** Puts an older store in the place of what it keeps; only while it is stopped. */
  async goBackTo(store: Buffer): Promise<void> {
    await writeFile(join(this.#folder, 'mosquitto.db'), store)
  }

  /** Stops it and removes its folder. */
  async close(): Promise<void> {
    this.thaw()
    await this.stop('SIGKILL')
    await rm(this.#folder, { recursive: true, force: true })
  }
}
