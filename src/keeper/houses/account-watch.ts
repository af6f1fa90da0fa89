import { readFile } from 'node:fs/promises'
import { watchText } from './text-watch.ts'

/** A file as messages name it, and where it lies. */
export interface NamedFile {
  readonly file: string
  readonly path: string
}

/**
 * Watches a file that names an account: it may be missing.
 * @param changed - gets what happened, as a sentence
 */
export async function watchAccount(
  { file, path }: NamedFile,
  changed: (what: string) => void,
): Promise<{ stop(): void }> {
  let used = await readFile(path, 'utf8').catch(() => undefined)
  const settled = (text: string | undefined): true => {
    if (text === used) return true
    used = text
    changed(`${file} ${text === undefined ? 'is gone' : 'came or was edited'}`)
    return true
  }
  const lost = () => void settled(undefined)
  return watchText(used === undefined ? { file: path } : { file: path, used }, {
    settled,
    missing: lost,
    unreadable: lost,
  })
}
