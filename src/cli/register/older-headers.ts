import * as z from 'zod/mini'
import type { TallyStore } from '../../keeper/store/store.ts'
import { fittingJson } from '../../protocol/fitting.ts'
import { WHATS } from '../../protocol/whats.ts'
import { type ChangedFact, changedFacts, headerFacts, type KeptFacts } from '../../register/revision.ts'
import type { Register } from '../../register/types.ts'
import { own } from '../../text/own.ts'
import { shown, tame } from '../../text/problems.ts'

/** A module in the wall that does not hold what the register says now. */
export interface OlderHeader {
  readonly mark: string
  readonly name: string
  /** Revision it holds; absent when only its words tell that it is an older one. */
  readonly holds?: string
  readonly wants: string
  /** Facts that differ; absent when nobody kept what was flashed. */
  readonly changed?: readonly ChangedFact[]
  readonly sentence: string
}

const NAMES: Readonly<Record<string, string>> = {
  keepAliveSeconds: 'keep-alive',
  repeatSeconds: 'a repeat after',
  'words.opened': 'the opened word',
  'words.closed': 'the closed word',
  'will.word': 'the rest word',
  'broker.host': 'the broker',
  'broker.port': 'the broker’s port',
  'broker.tls': 'TLS',
  'wifi.name': 'the network',
  'wifi.channel': 'the Wi-Fi channel',
  'wifi.bssid': 'the access point',
  'wifi.address': 'its address',
  client: 'the client id',
  qos: 'QoS',
}

const say = (value: unknown): string => (value === undefined ? 'nothing' : shown(value))

/** `W07 was flashed with keep-alive 4, the register says 6`. */
function sentenceOf(mark: string, changed: readonly ChangedFact[]): string {
  const parts = changed.map(
    ({ fact, was, now }) => `${own(NAMES, fact) ?? tame(fact)} ${say(was)}, the register says ${say(now)}`,
  )
  return `${mark} was flashed with ${parts.join('; ')}`
}

const NOT_ODD = WHATS.filter(what => what !== 'odd')

/** Modules that hold an older header than the register gives, by what the tally knows of each. */
export function olderHeadersByTally(
  register: Register,
  store: Pick<TallyStore<unknown>, 'newest' | 'entries'>,
): readonly OlderHeader[] {
  return register.openings.flatMap(opening => {
    const { mark, name, revision: wants } = opening
    const marks = [mark, ...opening.was]
    const last = store.newest({ marks, hasRevision: true, whats: NOT_ODD })
    const holds = last?.entry.revision
    if (holds !== undefined && holds !== wants) {
      const flashed = [...store.entries({ marks, whats: ['flashed'] })].findLast(({ revision }) => revision === holds)
      const was = flashed?.text === undefined ? undefined : factsOf(flashed.text)
      const changed = was && changedFacts(was, headerFacts(opening, register.broker))
      const sentence = changed?.length
        ? sentenceOf(mark, changed)
        : `${mark} holds revision ${holds}, the register gives ${wants}; what differs was not kept`
      return [{ mark, name, holds, wants, ...(changed ? { changed } : {}), sentence }]
    }
    const odd = store.newest({ marks, whats: ['odd'], from: (last?.seq ?? 0) + 1 })?.entry
    if (!odd) return []
    const sentence = `${mark} says ${say(odd.text)}, a word that the register does not know: it may hold an older header`
    return [{ mark, name, ...(holds === undefined ? {} : { holds }), wants, sentence }]
  })
}

/** Modules that must come out when the register `was` becomes `now`. */
export function olderHeadersByChange(was: Register, now: Register): readonly OlderHeader[] {
  const before = new Map(was.openings.map(opening => [opening.mark, opening]))
  return now.openings.flatMap(opening => {
    const { mark, name, revision: wants } = opening
    const old = before.get(mark) ?? opening.was.map(earlier => before.get(earlier)).find(found => found)
    if (!old || old.revision === wants) return []
    const changed = changedFacts(headerFacts(old, was.broker), headerFacts(opening, now.broker))
    return [{ mark, name, holds: old.revision, wants, changed, sentence: sentenceOf(mark, changed) }]
  })
}

const factsSchema: z.ZodMiniType<KeptFacts> = z.record(
  z.string(),
  z.union([z.string(), z.number(), z.boolean(), z.lazy(() => factsSchema), z.array(z.lazy(() => factsSchema))]),
)

/** What a `flashed` entry tells of its header: whoever wrote it may have written anything. */
function factsOf(text: string): KeptFacts | undefined {
  const facts = fittingJson(factsSchema, text)
  return facts?.mark === undefined ? undefined : facts
}
