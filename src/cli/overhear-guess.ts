/** What was heard on one topic, in order. */
export interface Overheard {
  readonly topic: string
  /** Milliseconds since the epoch. */
  readonly at: number
  readonly text: string
  /** The publisher's retain flag. */
  readonly retained: boolean
  /** A copy that the broker kept, given when the listening began. */
  readonly kept: boolean
}

/** A kind of contact as it was heard. */
export interface Proposal {
  readonly topic: string
  readonly mark: string
  readonly reports: 'openings' | 'both'
  readonly words: { readonly opened: string; readonly rest?: string; readonly closed?: string; readonly gone?: string }
  readonly keepAliveSeconds?: number
  /** JSON Pointer to the word where payloads are JSON. */
  readonly wordPointer?: string
  /** What it rests on, and what could not be told. */
  readonly because: string
}

export interface Unclear {
  readonly topic: string
  readonly why: string
}

export interface Guess {
  readonly proposals: readonly Proposal[]
  readonly unclear: readonly Unclear[]
}

const LONGEST_WORD = 60

/** Proposes openings from what was heard; nothing is certain, and each proposal says what it rests on. */
export function guessFrom(heard: readonly Overheard[]): Guess {
  const topics = new Map<string, Overheard[]>()
  for (const one of heard) topics.set(one.topic, [...(topics.get(one.topic) ?? []), one])
  const proposals: Proposal[] = []
  const unclear: Unclear[] = []
  const marks = new Set<string>()
  for (const [topic, list] of [...topics].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const found = guessTopic(topic, list)
    if ('why' in found) unclear.push(found)
    else proposals.push({ ...found, mark: markFor(topic, marks) })
  }
  return { proposals, unclear }
}

function guessTopic(topic: string, list: readonly Overheard[]): Omit<Proposal, 'mark'> | Unclear {
  const pointer = wordPointerOf(list.map(({ text }) => text))
  const read = list.map(one => ({
    ...one,
    word: pointer === undefined ? one.text : (wordAt(one.text, pointer) ?? one.text),
  }))
  const json = pointer === undefined ? {} : { wordPointer: pointer }
  const distinct = [...new Set(read.map(({ word }) => word))]
  if (distinct.some(word => word === '' || word.length > LONGEST_WORD))
    return { topic, why: 'its payloads are no short words' }
  if (distinct.length > 4)
    return { topic, why: `it says ${distinct.length} different things: not the words of a contact` }
  const live = read.filter(({ kept }) => !kept)
  if (live.length === 0)
    return { topic, why: `only the kept word ${JSON.stringify(distinct[0])} was there: open it while this listens` }
  const passing = [...new Set(live.filter(({ retained }) => !retained).map(({ word }) => word))]
  const standing = [...new Set(read.filter(({ retained, kept }) => retained || kept).map(({ word }) => word))]
  const [opened, rest] = [passing[0], standing[0]]
  if (passing.length === 1 && standing.length === 1 && opened !== undefined && rest !== undefined && opened !== rest) {
    const waits = live.flatMap((one, index) => {
      const before = live[index - 1]
      return one.word === rest && before?.word === opened ? [(one.at - before.at) / 1000] : []
    })
    if (waits.length === 0)
      return {
        topic,
        why: `${JSON.stringify(opened)} was heard and ${JSON.stringify(rest)} is kept, but never one after the other`,
      }
    const shortest = Math.min(...waits)
    const keepAliveSeconds = Math.max(1, Math.round(shortest / 1.5))
    const least = Math.max(1, Math.ceil((shortest - 6) / 1.5))
    return {
      topic,
      reports: 'openings',
      words: { opened, rest },
      keepAliveSeconds,
      ...json,
      because: `${times(waits.length)} ${JSON.stringify(opened)}, not kept, then ${JSON.stringify(rest)}, kept, ${shortest.toFixed(1)} s later at the soonest: a last will; the keep-alive may be ${least} to ${keepAliveSeconds}`,
    }
  }
  if (passing.length === 0 && standing.length >= 2 && standing.length <= 3) {
    const counts = new Map(standing.map(word => [word, live.filter(one => one.word === word).length]))
    const byCount = [...standing].sort((a, b) => counts.get(b)! - counts.get(a)!)
    const edges = standing.length === 3 ? byCount.slice(0, 2) : standing
    const gone = standing.length === 3 ? byCount[2] : undefined
    const first = live.find(({ word }) => edges.includes(word))!.word
    const before = read.find(({ kept }) => kept)?.word
    // What stood before the first change is where a door mostly is: closed.
    const open = before !== undefined && before !== first ? first : edges.find(word => word !== before)!
    const closed = edges.find(word => word !== open)!
    return {
      topic,
      reports: 'both',
      words: { opened: open, closed, gone: gone ?? `${closed} lost` },
      ...json,
      because: `all its words are kept: both edges. Which is which is a guess${gone === undefined ? '; no third word was heard, so the word for gone is made up' : `; ${JSON.stringify(gone)} came least often and is taken as gone`}`,
    }
  }
  if (passing.length > 0 && standing.length === 0)
    return {
      topic,
      why: `${passing.map(word => JSON.stringify(word)).join(', ')} came and nothing is kept: it has no retained last will`,
    }
  return { topic, why: `${distinct.map(word => JSON.stringify(word)).join(', ')} fit neither kind of contact` }
}

const times = (count: number): string => (count === 1 ? 'once' : `${count} times`)

/** Pointer to the one string in every JSON payload that takes the fewest values. */
function wordPointerOf(texts: readonly string[]): string | undefined {
  const values = new Map<string, Set<string>>()
  let objects = 0
  for (const text of texts) {
    const parsed = jsonOf(text)
    if (parsed === undefined) continue
    objects++
    for (const [pointer, value] of leaves(parsed))
      if (typeof value === 'string') values.set(pointer, (values.get(pointer) ?? new Set()).add(value))
  }
  if (objects === 0) return undefined
  const candidates = [...values].filter(([, set]) => set.size <= 4).sort((a, b) => b[1].size - a[1].size)
  return candidates[0]?.[0]
}

function jsonOf(text: string): object | undefined {
  if (!text.startsWith('{')) return undefined
  try {
    return JSON.parse(text) as object
  } catch {
    return undefined
  }
}

function* leaves(value: unknown, under = ''): Generator<[pointer: string, value: unknown]> {
  if (typeof value !== 'object' || value === null) yield [under, value]
  else
    for (const [key, part] of Object.entries(value))
      yield* leaves(part, `${under}/${key.replaceAll('~', '~0').replaceAll('/', '~1')}`)
}

const wordAt = (text: string, pointer: string): string | undefined => {
  const parsed = jsonOf(text)
  const value = parsed && [...leaves(parsed)].find(([at]) => at === pointer)?.[1]
  return typeof value === 'string' ? value : undefined
}

/** A mark from the topic's last level, kept unique. */
function markFor(topic: string, taken: Set<string>): string {
  const plain =
    (topic.split('/').at(-1) ?? '')
      .replace(/[^A-Za-z0-9-]/g, '')
      .replace(/^-+/, '')
      .slice(0, 12)
      .toUpperCase() || 'X'
  let mark = plain
  for (let n = 2; taken.has(mark); n++) mark = `${plain}-${n}`
  taken.add(mark)
  return mark
}

const quoted = (text: string): string => JSON.stringify(text)

/** A register to begin with; the comments say what each line rests on. */
export function proposalText({ proposals, unclear }: Guess, broker: string): string {
  const kinds = new Map<string, { name: string; of: Proposal }>()
  const keyOf = ({ reports, words, keepAliveSeconds, wordPointer }: Proposal): string =>
    JSON.stringify([reports, words, keepAliveSeconds, wordPointer])
  for (const proposal of proposals)
    if (!kinds.has(keyOf(proposal))) kinds.set(keyOf(proposal), { name: `kind${kinds.size + 1}`, of: proposal })
  const senders = [...kinds.values()].map(({ name, of }) => {
    const words = Object.entries(of.words)
      .map(([key, word]) => `${key}: ${quoted(word)}`)
      .join(', ')
    const power = of.reports === 'both' ? 'power: mains' : 'cell: CR2032   # a guess: say what feeds it'
    const json = of.wordPointer === undefined ? '' : `    json: { word: ${quoted(of.wordPointer)} }\n`
    const keepAlive = of.keepAliveSeconds === undefined ? '' : `    keepAliveSeconds: ${of.keepAliveSeconds}\n`
    return `  ${name}:\n    reports: ${of.reports}\n    ${power}\n    words: { ${words} }\n${keepAlive}${json}`
  })
  const openings = proposals.map(
    proposal =>
      `  # ${proposal.because.replace(/\p{C}/gu, ' ')}\n  - { mark: ${quoted(proposal.mark)}, name: ${quoted(proposal.mark)}, sender: ${kinds.get(keyOf(proposal))!.name}, topic: ${quoted(proposal.topic)} }`,
  )
  const doubts = unclear.map(({ topic, why }) => `# ${quoted(topic)}: ${why.replace(/\p{C}/gu, ' ')}`)
  return `# Overheard, to be read through: a guess, not a register yet. Client ids cannot be heard: add client: to each opening
# from what was flashed, or flash it anew with the derived one.
house: My house
timezone: UTC
broker: { mqtt: ${quoted(broker)} }
tally: tally/house
senders:
${senders.join('')}openings:
${openings.join('\n')}
${doubts.length ? `# Heard, and not understood:\n${doubts.join('\n')}\n` : ''}`
}
