import { KeeperProblem } from '../../keeper/begin/keeper-problem.ts'
import { StoreProblem } from '../../keeper/store/store-problem.ts'
import { EXIT, Stop } from '../world.ts'

/** Turns what is wrong with a store, or keeps a keeper from its work, into a sentence and exit 3. */
export async function withStoreProblems<T>(work: () => T | Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (error instanceof StoreProblem || error instanceof KeeperProblem) throw new Stop(EXIT.world, error.message)
    throw error
  }
}
