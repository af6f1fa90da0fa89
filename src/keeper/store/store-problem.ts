import { dirname } from 'node:path'

/** What is wrong with a store, in a word; the message is a sentence for the person. */
export type StoreFault =
  | 'full'
  | 'read-only'
  | 'newer'
  | 'older'
  | 'busy'
  | 'damaged'
  | 'missing'
  | 'foreign'
  | 'input-output'

/** What is wrong with a store, or its disk; the message is a sentence for the person. */
export class StoreProblem extends Error {
  constructor(
    readonly fault: StoreFault,
    message: string,
    options?: ErrorOptions,
  ) {
    super(message, options)
  }

  /** The sentence for a keeper that tries on. */
  get whileKept(): string {
    const isTriedAgain = ['full', 'read-only', 'busy'].includes(this.fault)
    return isTriedAgain ? `${this.message} and it goes on by itself` : this.message
  }
}

const FAULTS: readonly (readonly [RegExp, StoreFault, string])[] = [
  [/^SQLITE_(FULL|IOERR_SHMSIZE)/, 'full', 'the disk is full: free some space'],
  [/^SQLITE_(READONLY|PERM)/, 'read-only', 'the disk or the file is read-only: make it writable'],
  [/^SQLITE_(BUSY|LOCKED)/, 'busy', 'another program holds it locked: end that program'],
  [/^SQLITE_CORRUPT/, 'damaged', 'it is damaged: run `sashtally mend` on its folder'],
  [/^SQLITE_NOTADB/, 'foreign', 'it is not a tally: name the folder that `sashtally keep` made'],
  [
    /^SQLITE_CANTOPEN|Unable to open/,
    'read-only',
    'it cannot be opened for writing here: check the folder and its rights',
  ],
]

/** Turns an error of the database into a sentence with the file and what to do; other errors pass unchanged. */
export function storeProblem(error: unknown, path: string): unknown {
  if (!(error instanceof Error) || error instanceof StoreProblem) return error
  const code = (error as { code?: unknown }).code
  const name = typeof code === 'string' && code.startsWith('SQLITE_') ? code : ''
  for (const [pattern, fault, sentence] of FAULTS) {
    if (pattern.test(name || error.message)) return new StoreProblem(fault, `${path}: ${sentence}`, { cause: error })
  }
  if (!name) return error
  return new StoreProblem('input-output', `${path}: the disk refused it (${name}: ${error.message})`, { cause: error })
}

/** As `storeProblem`, with what the system refuses of files and folders. */
export function fileProblem(error: unknown, path: string): unknown {
  const { code, syscall } = error as NodeJS.ErrnoException
  const options = { cause: error }
  if (code === 'ENOSPC') return new StoreProblem('full', `${path}: the disk is full: free some space`, options)
  if (syscall === 'mkdir')
    return new StoreProblem('read-only', `${dirname(path)}: the folder cannot be made (${code})`, options)
  if (syscall !== undefined) {
    const sentence = `${path}: the system refuses it (${code}): check the folder and its rights`
    return new StoreProblem('read-only', sentence, options)
  }
  return storeProblem(error, path)
}
