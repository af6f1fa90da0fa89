import { join, resolve } from 'node:path'
import { type Clash, clashesOf, clashSentence } from '../../keeper/houses/claims.ts'
import { nameOf, registersIn } from '../../keeper/houses/folder.ts'
import { parseRegister } from '../../register/parse.ts'
import type { Parsed } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import type { Problem } from '../../text/problem.ts'
import { allSteps } from '../../text/steps.ts'
import { readTree } from '../../text/tree.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { readText } from './read-write.ts'

/** A register of a folder. */
export interface HouseFile extends Parsed {
  readonly name: string
  /** As the person reaches it. */
  readonly file: string
  readonly text: string
}

/**
 * Reads every register of a folder, in the order of their names, sound or not.
 * @throws Stop exit 3 when the folder or a file cannot be read, exit 1 when there is none
 */
export async function readHouses(folder: string, world: World): Promise<readonly HouseFile[]> {
  const files = await registersIn(resolve(world.cwd, folder)).catch((error: unknown) => {
    throw new Stop(EXIT.world, `${folder} cannot be read: ${fileReason(error)}`)
  })
  if (files.length === 0) throw new Stop(EXIT.input, `${folder} holds no register: each *.yaml or *.yml is one`)
  const houses: HouseFile[] = []
  for (const each of files) {
    const file = join(folder, each)
    const text = await readText(file, world)
    houses.push({ name: nameOf(each), file, text, ...parseRegister(text) })
  }
  return houses
}

/** What two houses of a folder both have and only one may, by the file of the second. */
export function clashProblems(houses: readonly HouseFile[]): ReadonlyMap<string, readonly Problem[]> {
  const sound = houses.flatMap(({ file, register }) => (register ? [[file, register] as const] : []))
  const texts = new Map(houses.map(({ file, text }) => [file, text]))
  return new Map(
    [...clashesOf(new Map(sound))].map(([file, clashes]): [string, readonly Problem[]] => {
      if (clashes.length === 0) return [file, []]
      const tree = allSteps(readTree(texts.get(file) ?? ''))
      const problemOf = (clash: Clash): Problem =>
        tree.problem(clash.claim.path ?? [], 'value', 'houses-clash', clashSentence(file, clash))
      return [file, clashes.map(problemOf)]
    }),
  )
}
