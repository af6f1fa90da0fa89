import { readdir } from 'node:fs/promises'
import { basename } from 'node:path'

const REGISTER = /^[^.].*\.ya?ml$/i

/** Names of the registers in a folder, in their order: every `*.yaml` and `*.yml`, but hidden files. */
export const registersIn = async (folder: string): Promise<readonly string[]> =>
  (await readdir(folder)).filter(name => REGISTER.test(name)).sort()

/** Name of a house: that of its register's file without folder and ending. */
export const nameOf = (file: string): string => basename(file).replace(/\.[^.]*$/, '')
