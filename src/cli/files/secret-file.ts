import { stat } from 'node:fs/promises'
import { resolve } from 'node:path'
import type { World } from '../world.ts'

/** Warns of a file of passwords that other users of the machine can read; what cannot be looked at is told by its reader. */
export async function warnIfOpen(file: string, world: World): Promise<void> {
  const { mode } = await stat(resolve(world.cwd, file)).catch(() => ({ mode: 0 }))
  if ((mode & 0o077) !== 0) world.stderr.write(`${file} can be read by others: chmod 600 ${file}\n`)
}
