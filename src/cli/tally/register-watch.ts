import { readFile, stat } from 'node:fs/promises'
import { parseRegister } from '../../register/parse.ts'
import type { Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { reason } from '../files/reason.ts'

/** How often the file is looked at. Looking works on every kind of disk, and through editors that replace the file. */
const LOOK_MILLISECONDS = 2_000

export interface RegisterWatchHooks {
  /** A good register, other than the last. */
  edited(register: Register): void
  /** The file cannot be used; the sentence says what to do. */
  broken(problem: string): void
}

/**
 * Watches a register file. A file that is being written is looked at again until it has stood still for one look.
 * @param path - as the person wrote it, for sentences; `file` - resolved
 * @param first - the text that is in use
 */
export function watchRegister(
  given: { path: string; file: string; first: string; now: () => number; everyMilliseconds?: number },
  hooks: RegisterWatchHooks,
): { stop(): void } {
  const { path, file, now, everyMilliseconds = LOOK_MILLISECONDS } = given
  let used = given.first
  let last = given.first
  let lastStat = ''
  let told = ''
  let stopped = false
  let timer: ReturnType<typeof setTimeout>

  const since = (): string => iso(now())
  const say = (what: string): void => {
    if (told === what || stopped) return
    told = what
    hooks.broken(`${path} ${what} (seen ${since()}): the register before it holds; run \`sashtally check ${path}\``)
  }

  const look = async (): Promise<void> => {
    const { mtimeMs, size, ino } = await stat(file)
    const fingerprint = `${mtimeMs} ${size} ${ino}`
    if (fingerprint === lastStat && last === used && told === '') return
    lastStat = fingerprint
    const bytes = await readFile(file)
    let text: string
    try {
      text = new TextDecoder('utf-8', { fatal: true }).decode(bytes)
    } catch {
      say('is not UTF-8 text')
      return
    }
    if (text !== last) {
      last = text
      return
    }
    if (text === used) {
      if (told === '') return
      told = ''
      const { register } = parseRegister(text)
      if (register && !stopped) hooks.edited(register)
      return
    }
    const { register, problems } = parseRegister(text)
    if (!register) {
      const errors = problems.filter(problem => problem.severity === 'error').length
      say(`has ${errors} ${errors === 1 ? 'error' : 'errors'}`)
      return
    }
    used = text
    told = ''
    if (!stopped) hooks.edited(register)
  }

  const next = (): void => {
    timer = setTimeout(() => {
      look()
        .catch((error: NodeJS.ErrnoException) => say(`cannot be read: ${reason(error)}`))
        .finally(() => {
          if (!stopped) next()
        })
    }, everyMilliseconds)
  }
  next()
  return {
    stop() {
      stopped = true
      clearTimeout(timer)
    },
  }
}
