import { resolve } from 'node:path'
import type { KeepOptions, RunningKeeper } from '../../keeper/begin/keep-options.ts'
import { editRefused, watchRegister } from '../../keeper/houses/register-watch.ts'
import { keepHouse } from '../../keeper/keep-house.ts'
import { readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { STDIN } from '../program/option.ts'
import { withStoreProblems } from '../store/problems.ts'
import type { World } from '../world.ts'

export interface KeepingOptions
  extends Pick<
    KeepOptions,
    'folder' | 'links' | 'giveRestWords' | 'beginAnew' | 'homie' | 'backups' | 'tell' | 'opened'
  > {
  /** The register's file, or `STDIN`. */
  readonly path: string
}

/**
 * Runs the keeper of a house and follows its register's file.
 * @returns when the world's signal stops it
 * @throws Stop exit 3 when the folder, the place or the disk cannot be had, or another keeper takes over
 */
export async function keepFile({ path, ...options }: KeepingOptions, world: World): Promise<void> {
  const first = await readInput(path, world)
  const register = await readRegister(path, world)
  const { now, signal } = world
  let watch: { stop(): void } | undefined
  const follow = (keeper: RunningKeeper | undefined): void => {
    watch?.stop()
    if (keeper && path === STDIN)
      options.tell('the register came from standard input: an edit of it is not taken up', 'register')
    else if (keeper) {
      watch = watchRegister(
        { file: resolve(world.cwd, path), used: first, now },
        {
          edited: edited => keeper.adopt(edited),
          broken: why => keeper.refuseEdit(editRefused(path, why)),
        },
      )
    }
    options.opened?.(keeper)
  }
  await withStoreProblems(() =>
    keepHouse({
      ...options,
      register,
      folder: resolve(world.cwd, options.folder),
      opened: follow,
      signal,
      now,
    }),
  )
}
