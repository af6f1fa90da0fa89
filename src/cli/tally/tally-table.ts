import type { Ledger } from '../../ledger/apply.ts'
import { headline } from '../../ledger/headline.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'
import { listed } from '../../text/lists.ts'
import { localTime } from '../../text/local-time.ts'
import { columns } from '../../text/table.ts'
import { leftText } from '../cells/left-text.ts'

const POSITIONS: Readonly<Record<Reading['position'], string>> = {
  open: 'open',
  opened: 'opened, nobody has seen it shut',
  closed: 'closed',
  'taken-closed': 'taken as closed, by your setting',
  'no-word': 'nothing heard',
}

/** `Fri 18:00`, `between Fri 18:00 and 18:20` where it waited at the broker; with what puts it in doubt. */
function whenText(reading: Reading, timezone: string): string {
  const { since, sinceUntil, notBefore } = reading
  const doubt = uncertainText(reading, timezone)
  if (since === undefined) return doubt
  const from = localTime(since, timezone)
  const to = sinceUntil === undefined ? undefined : localTime(sinceUntil, timezone)
  const at = notBefore ? ` after ${from} (the clock was wrong)` : to ? ` between ${from} and ${to}` : ` ${from}`
  return `${at}${doubt}`
}

function uncertainText({ onTestUntil, unheard, against }: Reading, timezone: string): string {
  if (onTestUntil !== undefined)
    return `, on test until ${localTime(onTestUntil, timezone)}: what it says counts nothing`
  const said = against ? ', but its contact said open' : ''
  return unheard === undefined ? said : `${said}, but nobody listened until ${localTime(unheard, timezone)}`
}

/**
 * Every opening of the house in one table, with what the figures rest on. One without a reading is not certain.
 * @param readings - of openings of the register, one of each at most
 * @param restsOn - since when it is counted, or who says so
 * @param ledger - absent: the keeper was asked, whose readings do not tell which words may have come twice
 */
export function table(readings: readonly Reading[], restsOn: string, register: Register, ledger?: Ledger): string {
  const { mayBeOpen, untested, notCertain } = headline(readings, false)
  const byMark = new Map(readings.map(reading => [reading.mark, reading]))
  const rows = register.openings.map(({ mark, name }) => {
    const reading = byMark.get(mark)
    if (!reading) return [mark, name, 'nothing published', '', '', '', '']
    const { position, doubts, openings, sends, left, countedSince } = reading
    const cell = left ? leftText(left) : ''
    return [
      mark,
      name,
      `${POSITIONS[position]}${whenText(reading, register.timezone)}`,
      doubts.join(' '),
      `${openings}`,
      countedSince === undefined ? '' : `${sends}${left?.sentBefore ? '+' : ''}`,
      cell,
    ]
  })
  const unpublished = rows.length - readings.length
  const heads = ['mark', 'name', 'position', 'doubts', 'openings', 'sends', 'left']
  return [
    `${mayBeOpen} may be open, ${notCertain + unpublished} not certain, ${untested} untested; ${restsOn}`,
    '',
    ...columns([heads, ...rows], Number.POSITIVE_INFINITY),
    ...basisLines(readings),
    ...(ledger ? againLines(ledger) : []),
    '',
  ].join('\n')
}

/** What the last columns rest on. */
function basisLines(readings: readonly Reading[]): string[] {
  const lefts = readings.flatMap(({ left }) => left ?? [])
  const house = Math.max(0, ...lefts.map(({ restsOn }) => (restsOn.source === 'house' ? restsOn.cells : 0)))
  const sources = [
    ...(lefts.some(({ restsOn }) => restsOn.source === 'practice' && !restsOn.assumed) ? ['common practice'] : []),
    ...(lefts.some(({ restsOn }) => restsOn.source === 'practice' && restsOn.assumed)
      ? ['assumptions where no count is known']
      : []),
    ...(house > 0 ? [`the model and up to ${house} cells of this house`] : []),
  ]
  return [
    ...(lefts.length ? ['', `Left: openings, middle value and 90 % range; rests on ${sources.join(', ')}.`] : []),
    ...(lefts.some(({ sentBefore }) => sentBefore)
      ? [
          '+ it may have sent more before the count began, so less may be left than in a new cell (cellFitted in the register says when it was fitted).',
        ]
      : []),
  ]
}

/** Openings of which the keeper could not tell a second delivery from a new word: among the last 256 entries of each. */
function againLines({ marks }: Ledger): string[] {
  const some = Object.entries(marks).flatMap(([mark, { window }]) =>
    window.some(({ entry: { maybeAgain, what } }) => maybeAgain && what === 'opened') ? [mark] : [],
  )
  return some.length > 0 ? ['', `Of ${listed(some)} some openings may be one word that came twice.`] : []
}
