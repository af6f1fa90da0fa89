import { stat } from 'node:fs/promises'
import { resolve } from 'node:path'
import type { World } from '../world.ts'

/**
 * What is wrong with a file of passwords that other users of the machine can read, as a sentence; undefined: nothing.
 * What cannot be looked at is told by its reader.
 */
export async function openFault(file: string, world: World): Promise<string | undefined> {
  const { mode } = await stat(resolve(world.cwd, file)).catch(() => ({ mode: 0 }))
  return (mode & 0o077) === 0 ? undefined : `${file} can be read by others: chmod 600 ${file}`
}

/** Says it on standard error. */
export async function warnIfOpen(file: string, world: World): Promise<void> {
  const fault = await openFault(file, world)
  if (fault !== undefined) world.stderr.write(`${fault}\n`)
}
