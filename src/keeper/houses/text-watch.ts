import { lstat, readFile, stat } from 'node:fs/promises'
import { fileReason } from '../../text/file-reason.ts'

/** How often files are looked at. Looking works on every kind of disk, and through editors that replace the file. */
export const LOOK_MILLISECONDS = 2_000

export interface TextWatchHooks {
  /** A text other than the last one, or one that can be read again. */
  settled(text: string): void | Promise<void>
  /** No such name is there, not even a link that leads nowhere; one that is being replaced may be away for a look. */
  missing(): void
  /** @param why - a part of a sentence, such as `is not UTF-8 text` */
  unreadable(why: string): void
}

export interface WatchedText {
  readonly file: string
  /** The text that is in use already. */
  readonly used?: string
}

/**
 * Watches a text file. One that is being written is looked at again until it has stood still for one look; that it is
 * missing or cannot be opened is told at every look; that it is missing, from the second on.
 */
export function watchText(given: WatchedText, hooks: TextWatchHooks): { stop(): void } {
  const { file } = given
  let used: string | null | undefined = given.used
  let last: string | null | undefined = used
  let lastStat = ''
  let isMissing = false
  let stopped = false
  let timer: ReturnType<typeof setTimeout>

  const look = async (): Promise<void> => {
    const { mtimeMs, size, ino } = await stat(file)
    const fingerprint = `${mtimeMs} ${size} ${ino}`
    isMissing = false
    if (fingerprint === lastStat && last !== undefined && last === used) return
    lastStat = fingerprint
    const text = decoded(await readFile(file))
    const isStill = text === last
    last = text
    if (stopped || !isStill || text === used) return
    used = text
    if (text === null) hooks.unreadable('is not UTF-8 text')
    else await hooks.settled(text)
  }

  const failed = async (error: unknown): Promise<void> => {
    const isThere = await lstat(file).then(
      () => true,
      () => false,
    )
    const wasMissing = isMissing
    isMissing = !isThere
    used = undefined
    lastStat = ''
    if (stopped) return
    if (isThere) hooks.unreadable(`cannot be read: ${fileReason(error)}`)
    else if (wasMissing) hooks.missing()
  }

  const next = (): void => {
    timer = setTimeout(() => {
      look()
        .catch(failed)
        .finally(() => {
          if (!stopped) next()
        })
    }, LOOK_MILLISECONDS)
  }
  next()
  return {
    stop() {
      stopped = true
      clearTimeout(timer)
    },
  }
}

/** @returns null: it is not UTF-8 */
function decoded(bytes: Uint8Array): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    return null
  }
}
