/** What a command may touch of the world outside; tests hand in their own. */
export interface World {
  readonly stdout: Sink
  readonly stderr: Sink
  readonly env: Readonly<Record<string, string | undefined>>
  /** Folder against which relative paths are resolved. */
  readonly cwd: string
  /** Milliseconds since the epoch. */
  now(): number
  /** Asks at the terminal; `secret` does not echo. Rejects with `NoTerminal` when there is none. */
  ask(question: string, options?: { secret?: boolean }): Promise<string>
  /** Aborted on the first Ctrl-C or SIGTERM. */
  readonly signal: AbortSignal
  /** All of standard input; the same at each call. */
  readStdin(): Promise<Uint8Array>
}

export interface Sink {
  write(text: string): void
  /** Colour and redrawn lines only when true. */
  readonly isTTY: boolean
  readonly columns: number
}

export class NoTerminal extends Error {}

export const EXIT = { fine: 0, input: 1, usage: 2, world: 3 } as const
export type Exit = (typeof EXIT)[keyof typeof EXIT]

/** What each exit code says, for manual and man page. */
export const EXIT_MEANINGS: Readonly<Record<Exit, string>> = {
  0: 'Fine; warnings may stand.',
  1: 'The input has problems, a proof failed, a walk is not finished, or `--check` found a file out of date.',
  2: 'Wrong use: an unknown command or option, or a value that cannot be read.',
  3: 'The world failed: broker, disk, or a file that cannot be read.',
}

/** Thrown by a command to end with a sentence for the person; nothing else is printed. */
export class Stop extends Error {
  constructor(
    readonly exit: Exit,
    message: string,
  ) {
    super(message)
  }
}
