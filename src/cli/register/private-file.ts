import { existsSync } from 'node:fs'
import { chmod, rm } from 'node:fs/promises'
import { resolve } from 'node:path'
import { fillPrivate, ownedPrivate, privateHeader, privateTally } from '../../emit/firmware/private-header.ts'
import type { Register } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import { tame } from '../../text/problems.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** Writes a file of secrets whole; only its owner may read it, before and after. */
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

/**
 * Equal marks of two houses have equal lines: the passwords of one must not take the place of the other's.
 * @throws Stop exit 1 where the private header that stands there says that it is of another house
 */
export async function mustBeOwnPrivate(path: string, { house, tally }: Register, world: World): Promise<void> {
  if (!existsSync(resolve(world.cwd, path))) return
  const owner = privateTally(await readText(path, world))
  if (owner === undefined || owner === tally) return
  throw new Stop(
    EXIT.input,
    `${path} is of the house with the tally ${tame(owner)}, not of ${tame(house)} (${tame(tally)}): nothing was done. Each house has a private.h of its own: name another file or folder (--private, --out). Where the tally of this house was renamed, write the new one into that file (PRIVATE_TALLY)`,
  )
}

/** What a file was before passwords were written to it. */
export interface Filled {
  readonly path: string
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
  await writePrivate(path, filledText(path, before, passwords, register), world)
  if (privateTally(before) === undefined)
    world.stderr.write(`${path} did not say of which house it is: it does now, ${tame(register.house)}\n`)
  return {
    path,
    undo: () => (isNew ? rm(resolve(world.cwd, path), { force: true }) : writePrivate(path, before, world)),
  }
}

function filledText(path: string, before: string, passwords: ReadonlyMap<string, string>, { tally }: Register): string {
  try {
    return fillPrivate(ownedPrivate(before, tally), passwords)
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    throw new Stop(EXIT.input, `${path} is no private header, nothing was changed: ${error.message}`)
  }
}
