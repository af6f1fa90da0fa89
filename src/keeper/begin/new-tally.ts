import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { echoText } from '../../protocol/echo.ts'
import type { LinkState } from '../../protocol/feed.ts'
import { parseReading, type ReadingNote } from '../../protocol/reading.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import { firstOf } from '../../text/lists.ts'
import { utf8Text } from '../../text/utf8.ts'
import { every, systemClock } from '../clock.ts'
import { newId } from '../id.ts'
import { SILENT_MILLISECONDS } from '../session/challenge.ts'
import { TALLY_FILE } from '../store/schema.ts'
import type { KeepOptions } from './keep-options.ts'
import { KeeperProblem } from './keeper-problem.ts'

const ASK_AGAIN_MILLISECONDS = 500
const LONGEST_READING = 100_000

export interface NewTally extends Pick<KeepOptions, 'register' | 'folder' | 'links' | 'signal'> {
  /** Name of the keeper for this run. */
  readonly keeper: string
  now(): number
  linkState(state: LinkState): void
}

/**
 * A new tally is begun only where none can have been. Where the folder has none, the broker must hold no readings of this
 * house: else the folder is the wrong one, or the tally is lost. Waits for the broker as long as it takes.
 * @throws KeeperProblem where the broker holds readings
 */
export async function mustBeNew(tally: NewTally): Promise<void> {
  const { folder, register } = tally
  if (existsSync(join(folder, TALLY_FILE))) return
  const held = (await readingsAt(tally)).filter(({ openings, sends, last }) => openings > 0 || sends > 0 || last)
  if (held.length === 0) return
  const marks = firstOf(
    held.map(({ mark }) => mark),
    4,
  )
  throw new KeeperProblem(
    `${folder}: there is no tally here, and the broker holds readings of ${register.tally} (${marks}), so there was one: name its folder, or put a backup back with \`sashtally mend --data ${folder} --backups DIR\`; to begin a new one all the same, add --begin-anew`,
  )
}

/** The readings that the broker keeps: those that came before a marker. */
function readingsAt({ register: { tally }, links, keeper, signal, now, linkState }: NewTally): Promise<ReadingNote[]> {
  const topics = tallyTopics(tally)
  const echo = topics.echo(newId(now()))
  const feed = links.link({ now })
  const found: ReadingNote[] = []
  return new Promise((done, failed) => {
    const stops: (() => void)[] = []
    const end = (): void => {
      for (const stop of stops) stop()
      signal.removeEventListener('abort', end)
      feed.close().then(() => done(found), failed)
    }
    if (signal.aborted) return end()
    signal.addEventListener('abort', end)
    feed.listen([topics.filters.openings, topics.filters.echoes])
    feed.open({
      link(state) {
        linkState(state)
        for (const stop of stops.splice(0)) stop()
        if (state.state !== 'live') return
        const ask = () => void feed.publish(echo, echoText('marker', keeper)).catch(() => {})
        stops.push(systemClock.after(0, ask), every(systemClock, ASK_AGAIN_MILLISECONDS, ask))
        stops.push(systemClock.after(SILENT_MILLISECONDS, end))
      },
      heard({ topic, payload }) {
        if (topic === echo) return end()
        const reading = tallyPlace(tally, topic)?.kind === 'opening' && parseReading(utf8Text(payload, LONGEST_READING))
        if (reading) found.push(reading)
      },
    })
  })
}
