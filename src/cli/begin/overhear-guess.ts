import { parseKeeper } from '../../protocol/keeper-note.ts'
import { tallyOfKeeper } from '../../protocol/topics.ts'
import { isInside, topicFault } from '../../register/topics.ts'
import { closedOf, edgesOf, type Timed } from './overhear-edges.ts'
import { type JsonShape, jsonShapeOf, wordOf } from './overhear-json.ts'
import { alike } from './overhear-kinds.ts'
import type { Overheard } from './overhear-log.ts'
import { marksOf } from './overhear-marks.ts'
import type { Guess, Proposal, Unclear } from './overhear-proposal.ts'
import { isWait, type KeepAlive, keepAliveOf } from './overhear-wait.ts'

const LONGEST_WORD = 60
/** Longer than any keep-alive of a contact that sleeps at once. */
const LONGEST_WAIT_SECONDS = 600

/** Proposes openings from what was heard; nothing is certain, and each proposal says what it rests on. */
export function guessFrom(heard: readonly Overheard[]): Guess {
  const topics = new Map<string, Overheard[]>()
  for (const one of heard) {
    const list = topics.get(one.topic)
    if (list) list.push(one)
    else topics.set(one.topic, [one])
  }
  const tallies = [...topics].flatMap(([topic, list]) =>
    list.some(({ text }) => parseKeeper(text)) ? (tallyOfKeeper(topic) ?? []) : [],
  )
  const found: Omit<Proposal, 'mark'>[] = []
  const unclear: Unclear[] = []
  for (const [topic, list] of [...topics].sort(([a], [b]) => (a < b ? -1 : 1))) {
    if (tallies.some(tally => isInside(topic, tally))) continue
    const guess = guessTopic(topic, list)
    if ('why' in guess) unclear.push(guess)
    else found.push(guess)
  }
  const kinds = alike(found, unclear)
  const marks = marksOf(kinds.found.map(({ topic }) => topic))
  return {
    proposals: kinds.found.map((one, index) => ({ ...one, mark: marks[index]! })),
    unclear: kinds.unclear,
    tallies,
  }
}

const say = (...words: readonly string[]): string => words.map(word => JSON.stringify(word)).join(', ')
const times = (count: number): string => (count === 1 ? 'once' : `${count} times`)
const distinct = (words: readonly string[]): string[] => [...new Set(words)]

function guessTopic(topic: string, list: readonly Overheard[]): Omit<Proposal, 'mark'> | Unclear {
  const fault = topicFault(topic)
  if (fault) return { topic, why: `it ${fault.says}` }
  const shape = jsonShapeOf(list.map(({ text }) => text))
  const heard = list.map(one => ({ ...one, seconds: one.at / 1000, word: wordOf(one.text, shape) }))
  const words = distinct(heard.map(({ word }) => word))
  if (words.some(word => word.trim() === '' || word.length > LONGEST_WORD || /[\0\p{Cs}]/u.test(word)))
    return { topic, why: 'its payloads are no short words' }
  if (distinct(words.map(word => word.trim())).length < words.length)
    return { topic, why: `${say(...words)} differ by blanks alone` }
  if (words.length > 4) return { topic, why: `it says ${words.length} different things: not the words of a contact` }
  const live = heard.filter(({ kept }) => !kept)
  if (live.length === 0)
    return {
      topic,
      why: `only the kept word ${say(words[0]!)} was there: open it while this listens`,
      words: { kept: words, passing: [], ...pointerOf(shape) },
    }
  const seen = distinct(heard.filter(({ retained, kept }) => kept || retained).map(({ word }) => word))
  const others = live.filter(({ word }) => !seen.includes(word))
  const passing = distinct(others.filter(({ retained }) => retained === false).map(({ word }) => word))
  const unknown = distinct(others.map(({ word }) => word)).filter(word => !passing.includes(word))
  // Two kept words make both edges; a third that went by too soon to be asked about is then kept too.
  const taken = seen.length >= 2 && passing.length === 0
  if (unknown.length && !taken)
    return {
      topic,
      why: `whether the broker keeps ${say(...unknown)} could not be seen: open it again while this listens`,
    }
  const standing = [...seen, ...unknown]
  const [opened, rest] = [passing[0], standing[0]]
  if (passing.length === 1 && standing.length === 1 && opened !== undefined && rest !== undefined)
    return openingsOnly(topic, opened, rest, live, shape)
  if (passing.length === 0 && standing.length >= 2 && standing.length <= 3)
    return bothEdges(topic, standing, heard, live, shape)
  if (standing.length === 0)
    return { topic, why: `${say(...passing)} came and nothing is kept: it has no retained last will` }
  if (passing.length === 0 && standing.length === 1)
    return {
      topic,
      why: `only ${say(rest!)} came, and it is kept: one word is no contact yet`,
      words: { kept: standing, passing, ...pointerOf(shape) },
    }
  if (passing.length === 2 && standing.length === 1)
    return {
      topic,
      why: `${say(...passing)} are not kept and ${say(rest!)} is: both edges want to be published retained`,
    }
  return { topic, why: `${say(...words)} fit neither kind of contact` }
}

/** Seconds from each word of one kind to the next word, where that is of the other kind. */
const waitsOf = (live: readonly Timed[], from: string, to: string): number[] =>
  live.flatMap((one, index) => {
    const before = live[index - 1]
    return one.word === to && before?.word === from && before.stretch === one.stretch
      ? [one.seconds - before.seconds]
      : []
  })

function openingsOnly(
  topic: string,
  opened: string,
  rest: string,
  live: readonly Timed[],
  shape: JsonShape | undefined,
): Omit<Proposal, 'mark'> | Unclear {
  const all = waitsOf(live, opened, rest)
  if (all.length === 0)
    return {
      topic,
      why: `${say(opened)} was heard and ${say(rest)} is kept, but never one after the other`,
      words: { kept: [rest], passing: [opened], ...pointerOf(shape) },
    }
  const waits = all.filter(isWait)
  if (waits.length > 0 && Math.min(...waits) > LONGEST_WAIT_SECONDS)
    return {
      topic,
      why: `${say(rest)} came ${Math.round(Math.min(...waits))} s after ${say(opened)}: too late for a last will`,
    }
  const soon = all.length - waits.length
  const hint = soon ? `; ${times(soon)} it came at once: a closed connection, or two contacts with one client id` : ''
  const { keepAlive, told } = keepAliveTold(waits)
  return {
    topic,
    reports: 'openings',
    words: { opened, rest },
    ...(keepAlive === undefined ? {} : { keepAlive }),
    ...pointerOf(shape),
    because: `${times(all.length)} ${say(opened)}, not kept, then ${say(rest)}, kept: a last will${told}${hint}${fromJson(shape)}`,
  }
}

function keepAliveTold(waits: readonly number[]): { keepAlive?: KeepAlive; told: string } {
  if (waits.length === 0) return { told: '; the keep-alive cannot be told' }
  const [soonest, latest] = [Math.min(...waits), Math.max(...waits)]
  const { uneven, ...keepAlive } = keepAliveOf(waits)
  const { least, most } = keepAlive
  const spread = soonest === latest ? '' : ` to ${latest.toFixed(1)}`
  const range = least === most ? `is ${most}` : `may be ${least} to ${most}`
  const note = uneven ? ' (the waits differ more than brokers do: the soonest counts)' : ''
  return { keepAlive, told: ` ${soonest.toFixed(1)}${spread} s later; the keep-alive ${range}${note}` }
}

function bothEdges(
  topic: string,
  words: readonly string[],
  heard: readonly Timed[],
  live: readonly Timed[],
  shape: JsonShape | undefined,
): Omit<Proposal, 'mark'> | Unclear {
  const [one = '', other = ''] = words
  const even =
    words.length === 2 && [[one, other] as const, [other, one] as const].find(pair => isEven(waitsOf(live, ...pair)))
  if (even) {
    const [opened, rest] = even
    return {
      topic,
      why: `${say(rest)} came after ${say(opened)} each time by the same wait, as a last will does, but both are kept: an opened word should not be`,
    }
  }
  // A last will that is taken for closed would have open windows called shut: no guess here.
  const closed = closedOf(words)
  if (closed === undefined)
    return {
      topic,
      why: `all its words are kept, and which of ${say(...words)} is closed cannot be told: a last will looks the same. Write this contact yourself`,
    }
  if (words.length === 2 && !words.some(from => isByHand(waitsOf(live, from, closed))))
    return {
      topic,
      why: `${say(...words)} are kept; whether ${say(closed)} is a word of its own or a last will is not told by so few: open it twice while this listens, once briefly, once for a minute`,
    }
  const { because, ...roles } = edgesOf(words, closed, heard)
  return {
    topic,
    reports: 'both',
    words: roles,
    ...pointerOf(shape),
    because: `all its words are kept: both edges; ${because}${fromJson(shape)}`,
  }
}

/** Hands are not as even as this. */
const isEven = (waits: readonly number[]): boolean =>
  waits.length >= 3 && Math.min(...waits) >= 1 && Math.max(...waits) - Math.min(...waits) <= 0.25

/** Closed by hand, after times as unlike as no last will makes them. */
const isByHand = (waits: readonly number[]): boolean => Math.max(...waits) - Math.min(...waits) > 5

const pointerOf = (shape: JsonShape | undefined): { wordPointer?: string } =>
  shape === undefined ? {} : { wordPointer: shape.word }

const fromJson = (shape: JsonShape | undefined): string => {
  if (shape === undefined) return ''
  const numbers = shape.numbers.length ? `; what ${say(...shape.numbers)} count cannot be told` : ''
  return `; its word is taken from ${say(shape.word)}${numbers}`
}
