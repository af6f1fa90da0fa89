import { randomBytes } from 'node:crypto'
import { access, constants, link, lstat, mkdir, open, readFile, realpath, rename, rm } from 'node:fs/promises'
import { basename, dirname, join, resolve } from 'node:path'
import { fileReason } from '../../text/file-reason.ts'
import { tame } from '../../text/problems.ts'
import { STDIN } from '../program/option.ts'
import { EXIT, Stop, type World } from '../world.ts'

/**
 * Reads a text file as UTF-8.
 * @throws Stop exit 3 with the path when it cannot be read
 */
export const readText = (path: string, world: World): Promise<string> =>
  decoded(readFile(resolve(world.cwd, path)), path)

/** A file that was given as an argument, as a sentence names it. */
export const inputName = (path: string): string => (path === STDIN ? 'standard input' : path)

/**
 * Reads a file that was given as an argument: a path, or standard input.
 * @throws Stop exit 3 when it cannot be read
 */
export const readInput = (path: string, world: World): Promise<string> =>
  path === STDIN ? decoded(world.readStdin(), inputName(path)) : readText(path, world)

async function decoded(bytes: Promise<Uint8Array>, name: string): Promise<string> {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(await bytes)
  } catch (error) {
    const why = error instanceof TypeError ? 'it is not UTF-8 text' : fileReason(error)
    throw new Stop(EXIT.world, `${name} cannot be read: ${why}`)
  }
}

/**
 * Writes a file whole or not at all: a temporary file beside it, flushed, then renamed over it.
 * A symbolic link is followed to the file it names; mode bits of an existing file are kept.
 * @throws Stop exit 3 with the path when it cannot be written
 */
export async function writeWhole(path: string, text: string, world: World, mode = 0o644): Promise<void> {
  let target = resolve(world.cwd, path)
  let temporary: string | undefined
  try {
    await mkdir(dirname(target), { recursive: true })
    const old = await lstat(target).catch(() => undefined)
    if (old?.isSymbolicLink()) target = await realpath(target)
    temporary = join(dirname(target), `.${basename(target)}.${randomBytes(4).toString('hex')}`)
    await writeFlushed(temporary, text, old?.isFile() ? old.mode & 0o777 : mode)
    await rename(temporary, target)
  } catch (error) {
    if (temporary) await rm(temporary, { force: true })
    throw new Stop(EXIT.world, `${path} cannot be written: ${fileReason(error)}`)
  }
}

/**
 * As `writeWhole`, and says on standard error that the file is there.
 * @throws Stop exit 3 with the path when it cannot be written
 */
export async function writeTold(path: string, text: string, world: World): Promise<void> {
  await writeWhole(path, text, world)
  world.stderr.write(`${tame(path)} is written.\n`)
}

/**
 * Writes a new file whole, and never over one that is there, even if it came meanwhile.
 * @throws Stop exit 1 when the path is taken, exit 3 when it cannot be written
 */
export async function writeNew(path: string, text: string, world: World): Promise<void> {
  await makeNew(path, world, async temporary => {
    await mkdir(dirname(temporary), { recursive: true })
    await writeFlushed(temporary, text, 0o644)
  })
}

/** A file that must not be there yet, flushed to the disk. */
async function writeFlushed(path: string, text: string, mode: number): Promise<void> {
  const file = await open(path, 'wx', mode)
  try {
    await file.writeFile(text)
    await file.sync()
  } finally {
    await file.close()
  }
}

/**
 * A new file from what `make` writes under a temporary name beside it; when `make` fails, nothing stands there.
 * @param option - where the person named it, for the sentence
 * @throws Stop exit 1 when the path is taken, exit 3 when it cannot be written
 */
export async function makeNew(
  path: string,
  world: World,
  make: (temporary: string) => Promise<void>,
  option = '--out',
): Promise<void> {
  await refuseTaken(path, world, option)
  const target = resolve(world.cwd, path)
  const temporary = join(dirname(target), `.${basename(target)}.${randomBytes(4).toString('hex')}`)
  try {
    await make(temporary)
    await link(temporary, target)
  } catch (error) {
    const { code, syscall } = error as NodeJS.ErrnoException
    if (code === 'EEXIST') throw taken(path, option)
    if (syscall) throw new Stop(EXIT.world, `${path} cannot be written: ${fileReason(error)}`)
    throw error
  } finally {
    await rm(temporary, { force: true })
  }
}

/** @throws Stop exit 1 when something stands at the path, a broken link too */
export async function refuseTaken(path: string, world: World, option = '--out'): Promise<void> {
  if (await lstat(resolve(world.cwd, path)).catch(() => undefined)) throw taken(path, option)
}

const taken = (path: string, option: string): Stop =>
  new Stop(EXIT.input, `${path} is there already: name another file with ${option}`)

/**
 * Makes sure that a file could be written, or made, without touching it.
 * @throws Stop exit 3 with the path when it could not
 */
export async function mustBeWritable(path: string, world: World): Promise<void> {
  const target = resolve(world.cwd, path)
  try {
    await (await open(target, 'r+')).close()
  } catch (error) {
    const why =
      (error as NodeJS.ErrnoException).code === 'ENOENT'
        ? await access(dirname(target), constants.W_OK | constants.X_OK).catch((of: unknown) => of)
        : error
    if (why !== undefined) throw new Stop(EXIT.world, `${path} cannot be written: ${fileReason(why)}`)
  }
}
