import { readFile, stat } from 'node:fs/promises'
import { parseRegister } from '../../register/parse.ts'
import type { Register } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import { iso } from '../../text/time.ts'

/** How often files are looked at. Looking works on every kind of disk, and through editors that replace the file. */
export const LOOK_MILLISECONDS = 2_000

export interface RegisterWatchHooks {
  /** A good register, other than the last. */
  edited(register: Register): void
  /** @param why - what is wrong, and since when: a part of a sentence, such as `has 2 errors (seen 2026-…)` */
  broken(why: string): void
}

/** A register, or what is wrong with the text as a part of a sentence. */
export function registerOf(text: string): Register | string {
  const { register, problems } = parseRegister(text)
  if (register) return register
  const errors = problems.filter(({ severity }) => severity === 'error')
  return `has ${errors.length} ${errors.length === 1 ? 'error' : 'errors'}`
}

/** A sentence of a file that cannot be used, while a keeper goes on with what stood in it before. */
export const editRefused = (path: string, why: string): string =>
  `${path} ${why}: the register before it holds; run \`sashtally check ${path}\``

interface Watched {
  readonly file: string
  /** The text that is in use already. */
  readonly used?: string
  readonly everyMilliseconds?: number
  now(): number
}

/**
 * Watches a register file. A file that is being written is looked at again until it has stood still for one look; one
 * that is not there is broken.
 */
export function watchRegister(given: Watched, hooks: RegisterWatchHooks): { stop(): void } {
  const { file, now, everyMilliseconds = LOOK_MILLISECONDS } = given
  let { used } = given
  let last = used
  let lastStat = ''
  let told = ''
  let stopped = false
  let timer: ReturnType<typeof setTimeout>

  const say = (what: string): void => {
    if (told === what || stopped) return
    told = what
    hooks.broken(`${what} (seen ${iso(now())})`)
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
    if (text === used && told === '') return
    const register = registerOf(text)
    if (typeof register === 'string') {
      if (text !== used) say(register)
      return
    }
    used = text
    told = ''
    if (!stopped) hooks.edited(register)
  }

  const next = (): void => {
    timer = setTimeout(() => {
      look()
        .catch((error: unknown) => say(`cannot be read: ${fileReason(error)}`))
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
