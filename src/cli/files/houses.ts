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
  /** Could not be read: its text is empty, its problem says why. */
  readonly isUnread: boolean
}

/**
 * Reads every register of a folder, in the order of their names, sound or not.
 * @throws Stop exit 3 when the folder cannot be read, exit 1 when it holds no register
 */
export async function readHouses(folder: string, world: World): Promise<readonly HouseFile[]> {
  const files = await registersIn(resolve(world.cwd, folder)).catch((error: unknown) => {
    throw new Stop(EXIT.world, `${folder} cannot be read: ${fileReason(error)}`)
  })
  if (files.length === 0) throw new Stop(EXIT.input, `${folder} holds no register: each *.yaml or *.yml is one`)
  const houses: HouseFile[] = []
  for (const each of files) houses.push(await readHouse(nameOf(each), join(folder, each), world))
  return houses
}

async function readHouse(name: string, file: string, world: World): Promise<HouseFile> {
  try {
    const text = await readText(file, world)
    return { name, file, text, isUnread: false, ...parseRegister(text) }
  } catch (error) {
    if (!(error instanceof Stop)) throw error
    const whole = { line: 1, column: 1, length: 1, path: '' }
    const problem = { code: 'file-unreadable', severity: 'error', ...whole, message: error.message } as const
    return { name, file, text: '', isUnread: true, problems: [problem] }
  }
}

/** Exit code of a folder with errors. */
export const exitOf = (houses: readonly HouseFile[]): typeof EXIT.world | typeof EXIT.input =>
  houses.some(({ isUnread }) => isUnread) ? EXIT.world : EXIT.input

/** What two houses of a folder both have and only one may, at both files. */
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
