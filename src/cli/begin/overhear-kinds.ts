import { listed } from '../../text/lists.ts'
import type { Proposal, Unclear } from './overhear-proposal.ts'
import { keepAliveOf } from './overhear-wait.ts'

type Found = Omit<Proposal, 'mark'>

const kindOf = ({ reports, words: { opened, rest, closed }, wordPointer }: Found): string =>
  JSON.stringify([reports, opened, rest, closed, wordPointer])

/**
 * Contacts with the same words are taken for one kind: what one of them showed holds for all, and a topic of which
 * only words of one kind were heard is proposed as another of it.
 */
export function alike(
  found: readonly Found[],
  unclear: readonly Unclear[],
): { readonly found: readonly Found[]; readonly unclear: readonly Unclear[] } {
  const kinds = new Map<string, Found[]>()
  for (const one of found) kinds.set(kindOf(one), [...(kinds.get(kindOf(one)) ?? []), one])
  const settled = [...kinds.values()].map(settle)
  const firsts = settled.map(kind => kind.find(one => one.keepAlive) ?? kind[0]!)
  const more: Found[] = []
  const left = unclear.map(one => {
    const like = firsts.filter(first => isLike(one, first))
    if (like.length === 1) {
      const { topic, ...kind } = like[0]!
      const because = `${one.why}; but that is what ${JSON.stringify(topic)} says, and it is taken to be of its kind: a guess`
      more.push({ ...kind, topic: one.topic, because })
      return undefined
    }
    return like.length === 0
      ? one
      : {
          ...one,
          why: `${one.why}; it may be of the kind of ${listed(
            like.map(({ topic }) => JSON.stringify(topic)),
            'or',
          )}`,
        }
  })
  const all = [...settled.flat(), ...more].sort((a, b) => (a.topic < b.topic ? -1 : 1))
  return { found: all, unclear: left.filter(one => one !== undefined) }
}

function settle(kind: readonly Found[]): Found[] {
  const waits = kind.flatMap(one => one.keepAlive?.waits ?? [])
  const shared = waits.length ? keepAliveOf(waits) : undefined
  const gone = new Set(kind.map(({ words }) => words.gone).filter(word => word !== undefined))
  const [only] = gone.size === 1 ? gone : []
  return kind.map(one => ({
    ...one,
    ...(shared && !shared.uneven ? { keepAlive: shared } : {}),
    words: { ...one.words, ...(only === undefined || one.reports === 'openings' ? {} : { gone: only }) },
  }))
}

function isLike({ words }: Unclear, { reports, words: own, wordPointer }: Found): boolean {
  if (!words || words.kept.length === 0) return false
  const { kept, passing } = words
  if (reports === 'both') {
    const all = [own.opened, own.closed, own.gone]
    return passing.length === 0 && kept.every(word => all.includes(word)) && words.wordPointer === wordPointer
  }
  // A last will is the bare word even where the contact's own words are JSON.
  const told = passing.length === 0 || words.wordPointer === wordPointer
  return told && kept.every(word => word === own.rest) && passing.every(word => word === own.opened)
}
