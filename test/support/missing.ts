import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { delimiter, join } from 'node:path'

/** Where a program is, on PATH or in the folders where Debian keeps servers; undefined when it is missing. */
export function programPath(name: string): string | undefined {
  const folders = [...(process.env.PATH ?? '').split(delimiter), '/usr/sbin', '/usr/local/sbin', '/usr/bin']
  return folders.map(folder => join(folder, name)).find(path => existsSync(path))
}

/**
 * Options for `describe`: skipped, with the reason in its name, when a program is missing;
 * where skips are not allowed (SASHTALLY_NO_SKIPS=1) it runs and fails instead.
 */
export function needs(...programs: readonly string[]): { title(text: string): string; skip: boolean } {
  const missing = programs.filter(name => !programPath(name))
  const skip = missing.length > 0 && process.env.SASHTALLY_NO_SKIPS !== '1'
  return { skip, title: text => (skip ? `${text} (skipped: ${missing.join(', ')} is not installed)` : text) }
}

/** As `needs`, where this user may not mount a disk. */
export function needsMount(): { title(text: string): string; skip: boolean } {
  const at = mkdtempSync(join(tmpdir(), 'sashtally-mount-'))
  const may = spawnSync('mount', ['-t', 'tmpfs', 'none', at]).status === 0
  if (may) spawnSync('umount', [at])
  rmSync(at, { recursive: true })
  const skip = !may && process.env.SASHTALLY_NO_SKIPS !== '1'
  return { skip, title: text => (skip ? `${text} (skipped: this user may not mount a disk)` : text) }
}
