import { isInside } from '../../register/topics.ts'
import { comment, quoted } from '../../text/yaml-text.ts'
import type { Guess, Proposal } from './overhear-proposal.ts'

export interface HouseGuess {
  readonly broker: string
  readonly timezone: string
}

/** A register to begin with; the comments say what each line rests on. */
export function proposalText(guess: Guess, { broker, timezone }: HouseGuess): string {
  const { proposals } = guess
  const kinds = new Map<string, { name: string; of: Proposal }>()
  const keyOf = ({ reports, words, keepAlive, wordPointer }: Proposal): string =>
    JSON.stringify([reports, words, keepAlive?.seconds, keepAlive?.least, keepAlive?.most, wordPointer])
  for (const of of proposals) if (!kinds.has(keyOf(of))) kinds.set(keyOf(of), { name: `kind${kinds.size + 1}`, of })
  const openings = proposals.map(
    one =>
      `  # ${comment(one.because)}\n  - { mark: ${quoted(one.mark)}, name: ${quoted(one.mark)}, sender: ${kinds.get(keyOf(one))!.name}, topic: ${quoted(one.topic)} }`,
  )
  const tally = guess.tallies[0] ?? tallyFor(proposals.map(({ topic }) => topic))
  const notes = unclearLines(guess)
  return `# Overheard, to be read through: a guess, not a register yet. Client ids cannot be heard: add client: to each opening
# from what was flashed, or flash it anew with the derived one. Name each opening, and say on which side and floor it is.
house: My house   # its name
timezone: ${quoted(timezone)}   # of the machine that listened
broker: { mqtt: ${quoted(broker)} }
tally: ${quoted(tally)}
senders:
${[...kinds.values()].map(({ name, of }) => senderText(name, of)).join('')}openings:
${openings.join('\n')}
${notes.length ? `# Heard, and not understood:\n${notes.map(line => `# ${line}\n`).join('')}` : ''}`
}

/** One line for each topic that fits no contact. */
export const unclearLines = ({ unclear, tallies }: Guess): string[] => [
  ...unclear.map(({ topic, why }) => comment(`${quoted(topic)}: ${why}`)),
  ...tallies.map(tally => comment(`${quoted(tally)}: a keeper's own tally`)),
]

function senderText(name: string, of: Proposal): string {
  const lines = [`  ${name}:`, `    reports: ${of.reports}`]
  lines.push(
    of.reports === 'both'
      ? '    power: mains   # a guess: say what feeds it'
      : '    cell: CR2032   # a guess: say what feeds it',
  )
  const { gone, ...words } = of.words
  const all = Object.entries(words).map(([key, word]) => `${key}: ${quoted(word)}`)
  const madeUp = of.reports === 'both' && gone === undefined
  if (of.reports === 'both') all.push(`gone: ${quoted(gone ?? freeWord(Object.values(words)))}`)
  lines.push(`    words: { ${all.join(', ')} }${madeUp ? '   # gone is made up: write what its last will says' : ''}`)
  if (of.keepAlive) {
    const { seconds, least, most } = of.keepAlive
    lines.push(`    keepAliveSeconds: ${seconds}${least === most ? '' : `   # may be ${least} to ${most}`}`)
  }
  if (of.wordPointer !== undefined) lines.push(`    json: { word: ${quoted(of.wordPointer)} }`)
  return `${lines.join('\n')}\n`
}

/** A word for gone that is none of the others. */
function freeWord(words: readonly (string | undefined)[]): string {
  let word = 'lost'
  while (words.some(other => other?.trim() === word)) word += ' again'
  return word
}

/** Topics of the tally beside those of the contacts, and around none of them. */
function tallyFor(topics: readonly string[]): string {
  const [first = '', ...rest] = topics.map(topic => topic.split('/').slice(0, -1))
  let shared = 0
  while (shared < first.length && rest.every(levels => levels[shared] === first[shared])) shared++
  const parent = [...first].slice(0, shared).join('/')
  let tally = parent === '' ? 'house/tally' : `${parent}/tally`
  while (topics.some(topic => isInside(topic, tally))) tally += '-2'
  return tally
}
