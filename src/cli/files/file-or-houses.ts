import { EXIT, Stop } from '../world.ts'

/**
 * Of a register and a folder of registers the one that was given.
 * @throws Stop exit 2 where it is none or both
 */
export function fileOrHouses(
  command: string,
  file: string | undefined,
  registers: string | undefined,
):
  | { readonly file: string; readonly registers?: undefined }
  | { readonly file?: undefined; readonly registers: string } {
  if (registers === undefined && file !== undefined) return { file }
  if (registers !== undefined && file === undefined) return { registers }
  throw new Stop(EXIT.usage, `${command} wants one of the two: a register, or --houses with a folder of registers`)
}
