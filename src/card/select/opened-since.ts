import { iso } from '../../text/time.ts'
import { spanOf } from '../state/keeper.ts'
import { mayBeOpen, type Row } from '../state/row.ts'
import type { StoryOf } from './stories.ts'

export interface OpenedRow {
  readonly row: Row
  /** Milliseconds since the epoch, oldest first. */
  readonly times: readonly number[]
  /** The last of them happened between this and its time, milliseconds since the epoch; absent: then. */
  readonly lastFrom?: number
  /** It happened at some time after that, nobody knows when. */
  readonly hasNoEnd?: true
  /** So many of them may be the word of another one once more. */
  readonly maybeAgain?: number
  /** More may have been opened: nobody listened for a part of the time, or there is no story that goes back so far. */
  readonly atLeast: boolean
  /** Only where no opening is known: when it was heard shut. */
  readonly shutAt?: number
}

/** Times of a story and of a reading that are no farther apart are of one opening: clocks of a house differ. */
const SAME_MILLISECONDS = 120_000

/** What opened at or after a time, newest first, as the stories tell it; a reading is sooner known than its story. */
export function openedSince(rows: readonly Row[], storyOf: StoryOf, since: number): readonly OpenedRow[] {
  const within = (text: string | undefined) => (text === undefined ? [] : [Date.parse(text)].filter(at => at >= since))
  const opened = rows.flatMap((row): OpenedRow[] => {
    const { reading, opening } = row
    const { last } = reading
    const story = storyOf(opening.mark)
    const told = (story?.openings ?? []).map(([at, until]) => spanOf(at, until ?? at)).filter(([, to]) => to >= since)
    const isNew = (at: number) =>
      !told.some(span => at >= span[0] - SAME_MILLISECONDS && at <= span[1] + SAME_MILLISECONDS)
    // A contact that reports openings alone proves itself by nothing else.
    const proof = !story && opening.reports === 'openings' ? reading.provenAt : undefined
    const newer = within(mayBeOpen(row) ? reading.since : proof).filter(isNew)
    const times = [...told.map(([, to]) => to), ...newer].sort((a, b) => a - b)
    // The older ones are not kept.
    const isCut = told.length === story?.openings.length && reading.openings > told.length
    const atLeast = !story || isCut || story.unheard?.some(([, to]) => Date.parse(to) > since) === true
    const span = told.find(([, to]) => to === times.at(-1))
    const from = span && iso(span[0])
    const again = story?.maybeAgain?.filter(at => told.some(([known]) => known === Date.parse(at))).length
    if (times.length > 0)
      return [
        {
          ...{ row, times, atLeast },
          ...(span && span[0] < span[1] ? { lastFrom: span[0] } : {}),
          ...(from && story?.notBefore?.includes(from) ? { hasNoEnd: true } : {}),
          ...(again ? { maybeAgain: again } : {}),
        },
      ]
    const shut = last?.word === 'closed' && last.how !== 'retained' ? within(last.until ?? last.at) : []
    return shut.length > 0 ? [{ row, times: [], atLeast, shutAt: shut[0]! }] : []
  })
  return opened.sort((a, b) => newest(b) - newest(a))
}

/** When it was last heard to open, else to shut. */
export const newest = ({ times, shutAt }: OpenedRow): number => times.at(-1) ?? shutAt ?? 0
