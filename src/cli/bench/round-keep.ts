import type { Credentials } from '../../link/node/links.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import { brokerUrlOf, linkTo } from '../broker/link.ts'
import { Sayer } from '../tally/say-over.ts'
import { Stop, type World } from '../world.ts'

/**
 * The report to the keeper, which has heard the words itself.
 * @returns whether it took all
 * @throws Stop exit 3 when it does not answer
 */
export async function sayAll(
  results: readonly Entry[],
  register: Register,
  account: Credentials,
  world: World,
): Promise<boolean> {
  const sayer = new Sayer(linkTo(brokerUrlOf(register), account), register.tally, world)
  sayer.open()
  let kept = 0
  try {
    for (const { mark, text = '' } of results) {
      const { ok, problem } = await sayer.say(mark, { what: 'round', note: text })
      if (ok) kept++
      else world.stderr.write(`${mark}: not kept, the keeper says: ${tame(problem ?? '')}\n`)
    }
    return kept === results.length
  } catch (error) {
    if (error instanceof Stop) world.stderr.write(`kept for ${kept} of ${results.length} openings only\n`)
    throw error
  } finally {
    await sayer.close()
  }
}
