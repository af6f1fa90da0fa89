import { readFile } from 'node:fs/promises'
import { watchText } from './text-watch.ts'

/** A file as messages name it, and where it lies. */
export interface NamedFile {
  readonly file: string
  readonly path: string
}

export interface AccountWatchHooks {
  /** @param what - what happened, as a sentence */
  changed(what: string): void
  /** @param what - why it cannot be read, as a sentence, each once */
  unreadable(what: string): void
}

/** Watches a file that names an account: it may be missing. */
export async function watchAccount({ file, path }: NamedFile, hooks: AccountWatchHooks): Promise<{ stop(): void }> {
  let used = await readFile(path, 'utf8').catch(() => undefined)
  let told = ''
  const settled = (text: string | undefined): void => {
    told = ''
    if (text === used) return
    used = text
    hooks.changed(`${file} ${text === undefined ? 'is gone' : 'came or was edited'}`)
  }
  const unreadable = (why: string): void => {
    if (why !== told) hooks.unreadable(`${file} ${why}`)
    told = why
  }
  const watched = used === undefined ? { file: path } : { file: path, used }
  return watchText(watched, { settled, missing: () => settled(undefined), unreadable })
}
