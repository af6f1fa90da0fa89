import { listed } from '../text/lists.ts'
import { shown } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import { senderCraft } from './craft-rules.ts'
import { namesIn, type RuleContext, valueAt, whose } from './rule-context.ts'

/** The words of a contact, by what it reports, in the order in which it says them. */
export const SENDER_WORDS = { openings: ['opened', 'rest'], both: ['opened', 'closed', 'gone'] } as const
/** Rules on one kind of contact. */
export function senderRules(context: RuleContext, name: string): void {
  const { read, root, whole, add } = context
  const here = (...path: (string | number)[]): Path => ['senders', name, ...path]
  const lead = `${whose(root, here())}: `
  const has = (...path: (string | number)[]): boolean => valueAt(root, here(...path)) !== undefined
  if (!namesIn(valueAt(root, here())).length) return

  if (has('cell') && has('power')) {
    add(
      here('power'),
      'key',
      'cell-and-power',
      `${lead}A contact runs from a cell or from the mains, and both stand here: take one out`,
    )
  } else if (!has('cell') && !has('power') && whole) {
    add(
      here(),
      'key',
      'no-power',
      `${lead}A contact runs from a cell or from the mains, and neither stands here: add cell: CR2032, or power: mains`,
    )
  }
  senderCraft(context, name)
  wordRules({ read, whole, add }, here, lead, has)
  pointerRules({ read, add }, here, lead)
  const phases = valueAt(root, here('load'))
  for (const index of Array.isArray(phases) ? phases.keys() : []) {
    const lasts = read(here('load', index, 'burst', 'milliseconds'))
    const every = read(here('load', index, 'burst', 'everyMilliseconds'))
    if (typeof lasts === 'number' && typeof every === 'number' && lasts > every) {
      add(
        here('load', index, 'burst', 'milliseconds'),
        'value',
        'burst',
        `${lead}A burst ends before the next begins; this one lasts ${lasts} ms every ${every} ms: shorten it`,
      )
    }
    const phase = read(here('load', index, 'milliseconds'))
    if (typeof phase === 'number' && typeof every === 'number' && every > 0 && phase / every > MOST_BURSTS) {
      add(
        here('load', index, 'burst', 'everyMilliseconds'),
        'value',
        'bursts',
        `${lead}A phase has at most ${MOST_BURSTS} bursts; this one has ${Math.floor(phase / every)}: say its mean current instead`,
      )
    }
  }
}

/** Bursts are counted out one by one whenever something is forecast. */
const MOST_BURSTS = 1000

type Has = (...path: (string | number)[]) => boolean
type Here = (...path: (string | number)[]) => Path

function wordRules(
  { read, whole, add }: Pick<RuleContext, 'read' | 'whole' | 'add'>,
  here: Here,
  lead: string,
  has: Has,
): void {
  const reports = read(here('reports'))
  if (has('words') && (reports === 'openings' || reports === 'both')) {
    const wanted: readonly string[] = SENDER_WORDS[reports]
    const rule = `${lead}A contact that reports ${reports === 'both' ? 'both edges' : 'openings'} has the words ${wanted.join(', ')}`
    const missing = wanted.filter(word => !has('words', word))
    if (missing.length && whole)
      add(
        here('words'),
        'key',
        'words-missing',
        `${rule}; ${listed(missing)} ${missing.length === 1 ? 'is' : 'are'} missing: add ${missing.length === 1 ? 'it' : 'them'}`,
      )
    for (const word of ['rest', 'closed', 'gone']) {
      if (has('words', word) && !wanted.includes(word))
        add(
          here('words', word),
          'key',
          'word-unused',
          `${rule}; ${word} is none of them: take it out, or change reports`,
        )
    }
  } else if (has('words') && !has('words', 'opened') && whole) {
    add(here('words'), 'key', 'words-missing', `${lead}Every contact has a word for opened; it is missing: add it`)
  }
  const first = new Map<string, string>()
  for (const key of ['opened', 'rest', 'closed', 'gone']) {
    const word = read(here('words', key))
    if (typeof word !== 'string') continue
    const same = first.get(word.trim())
    if (same)
      add(
        here('words', key),
        'value',
        'words-equal',
        `${lead}The words of a contact differ; ${same} and ${key} are both ${shown(word)}: change one`,
      )
    else first.set(word.trim(), key)
  }
}

/** Whether one JSON Pointer leads into what another leads to. */
const isWithin = (inner: string, outer: string): boolean => inner.startsWith(`${outer}/`)

function pointerRules({ read, add }: Pick<RuleContext, 'read' | 'add'>, here: Here, lead: string): void {
  const first = new Map<string, string>()
  for (const key of ['word', 'millivolts', 'boots', 'revision', 'joinMilliseconds']) {
    const pointer = read(here('json', key))
    if (typeof pointer !== 'string') continue
    const same = first.get(pointer)
    if (same)
      add(
        here('json', key),
        'value',
        'json-pointer-twice',
        `${lead}Each JSON Pointer leads to its own field; ${same} and ${key} are both ${shown(pointer)}: change one`,
      )
    else first.set(pointer, key)
    const around = [...first].find(([outer, name]) => name !== key && isWithin(pointer, outer))
    const inside = [...first].find(([inner, name]) => name !== key && isWithin(inner, pointer))
    if (around || inside)
      add(
        here('json', key),
        'value',
        'json-pointer-inside',
        `${lead}Each JSON Pointer leads to a value of its own; ${around ? `${shown(pointer)} lies inside ${around[1]}` : `${inside![1]} lies inside ${shown(pointer)}`}: change one`,
      )
  }
}
