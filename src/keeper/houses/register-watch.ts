import { parseRegister } from '../../register/parse.ts'
import type { Register } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import { iso } from '../../text/time.ts'
import { turnOf } from '../turns.ts'
import { type WatchedText, watchText } from './text-watch.ts'

export interface RegisterWatchHooks {
  /** A good register, other than the last. */
  edited(register: Register): void
  /** @param why - what is wrong, and since when: a part of a sentence, such as `has 2 errors (seen 2026-…)` */
  broken(why: string): void
  /** Default: that is broken. */
  missing?(): void
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

interface Watched extends WatchedText {
  now(): number
}

/** Watches a register file; one that is not there is broken, unless somebody else looks after that. */
export function watchRegister(given: Watched, hooks: RegisterWatchHooks): { stop(): void } {
  const { now } = given
  let { used } = given
  let told = ''
  let isStopped = false
  const say = (what: string): void => {
    if (told === what) return
    told = what
    hooks.broken(`${what} (seen ${iso(now())})`)
  }
  const settled = async (text: string): Promise<void> => {
    if (text === used && told === '') return
    const register = await turnOf(() => registerOf(text))
    if (isStopped) return
    if (typeof register === 'string') return say(register)
    told = ''
    used = text
    hooks.edited(register)
  }
  const missing = hooks.missing ?? ((): void => say(`cannot be read: ${fileReason({ code: 'ENOENT' })}`))
  const watch = watchText(given, { settled, unreadable: say, missing })
  return {
    stop() {
      isStopped = true
      watch.stop()
    },
  }
}
