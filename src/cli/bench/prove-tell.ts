import { LID_CAUTION, MAGNETS_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import type { ProveJson } from '../json/bench.ts'
import { jsonText } from '../json/json-text.ts'
import type { World } from '../world.ts'
import type { Lid } from './prove-ask.ts'
import type { BenchSeen, ProveRules, Verdict } from './prove-seen.ts'
import { type SinceLast, sinceText } from './prove-since.ts'

export interface ProofStory {
  readonly seen: BenchSeen
  /** Absent: its cell is no coin cell, or it has none. */
  readonly lid: Lid | undefined
  readonly since: SinceLast | undefined
  readonly kept: string
  readonly timezone: string
}

export function tellJson(verdict: Verdict, { mark, power }: ProveRules, told: ProofStory, world: World): void {
  const { lid, since, kept, seen } = told
  const json: ProveJson = {
    mark,
    power,
    ...verdict,
    ...(since === undefined ? {} : { sinceLast: since }),
    ...(lid === undefined || lid === 'unsaid' ? {} : { lidNeedsTool: lid === 'tool' }),
    kept,
    seen,
  }
  world.stdout.write(jsonText(json))
}

export function tellText(
  verdict: Verdict,
  { mark }: ProveRules,
  { since, kept, timezone }: ProofStory,
  world: World,
): void {
  const say = (line: string): void => world.stdout.write(`${tame(line)}\n`)
  const unsure = verdict.checks.some(({ name, result }) => name === 'client id' && result === 'not seen')
  say(`${mark}: ${verdict.proved ? `proved${unsure ? ', but its client id was not confirmed' : ''}` : 'not proved'}`)
  for (const { name, result, says } of verdict.checks) say(`  ${name.padEnd(10)}  ${result.padEnd(8)}  ${says}`)
  if (since) say(sinceText(since, timezone))
  if (verdict.causes.length) say('Likely causes, in the order to try them:')
  for (const [index, cause] of verdict.causes.entries()) say(`  ${index + 1}. ${cause}`)
  say(kept)
}

/** After the verdict, whatever it is. */
export function tellCautions(lid: Lid | undefined, world: World): void {
  if (lid !== undefined && lid !== 'tool') world.stderr.write(`Caution: ${LID_CAUTION}\n`)
  world.stderr.write(`${MAGNETS_CAUTION}\n`)
}
