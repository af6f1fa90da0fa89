import { existsSync } from 'node:fs'
import { chmod, rm } from 'node:fs/promises'
import { resolve } from 'node:path'
import { fillPrivate, privateHeader } from '../../emit/firmware/private-header.ts'
import type { Register } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** Writes a private header whole; only its owner may read it, before and after. */
export async function writePrivate(path: string, text: string, world: World): Promise<void> {
  const target = resolve(world.cwd, path)
  if (existsSync(target)) {
    try {
      await chmod(target, 0o600)
    } catch (error) {
      throw new Stop(EXIT.world, `${path} cannot be closed to others: ${fileReason(error)}`)
    }
  }
  await writeWhole(path, text, world, 0o600)
}

/** What a private header was before it was filled in. */
export interface Filled {
  /** Puts back what stood there. */
  undo(): Promise<void>
}

/**
 * Fills in the passwords of contacts; a file that is not there is made.
 * @param passwords - by mark
 * @throws Stop exit 1 when the file is no private header, exit 3 when it cannot be read or written
 */
export async function fillPrivateFile(
  path: string,
  register: Register,
  passwords: ReadonlyMap<string, string>,
  world: World,
): Promise<Filled> {
  const isNew = !existsSync(resolve(world.cwd, path))
  const before = isNew ? privateHeader(register) : await readText(path, world)
  await writePrivate(path, filledText(path, before, passwords), world)
  return {
    undo: () => (isNew ? rm(resolve(world.cwd, path), { force: true }) : writePrivate(path, before, world)),
  }
}

function filledText(path: string, before: string, passwords: ReadonlyMap<string, string>): string {
  try {
    return fillPrivate(before, passwords)
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    throw new Stop(EXIT.input, `${path} is no private header, nothing was changed: ${error.message}`)
  }
}
