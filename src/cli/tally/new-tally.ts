import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { every, systemClock } from '../../keeper/clock.ts'
import { newId } from '../../keeper/id.ts'
import { SILENT_MILLISECONDS } from '../../keeper/session/challenge.ts'
import { TALLY_FILE } from '../../keeper/store/schema.ts'
import { echoText } from '../../protocol/echo.ts'
import type { Feed, LinkState } from '../../protocol/feed.ts'
import { parseReading, type ReadingNote } from '../../protocol/reading.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import { firstOf } from '../../text/lists.ts'
import { utf8Text } from '../../text/utf8.ts'
import { EXIT, Stop, type World } from '../world.ts'

const ASK_AGAIN_MILLISECONDS = 500
const LONGEST_READING = 100_000

export interface NewTally {
  readonly folder: string
  readonly register: Register
  /** Name of the keeper for this run. */
  readonly keeper: string
  /** A link that is not open yet. */
  feed(): Feed
  link(state: LinkState): void
}

/**
 * A new tally is begun only where none can have been. Where the folder has none, the broker must hold no readings of this
 * house: else the folder is the wrong one, or the tally is lost. Waits for the broker as long as it takes.
 * @throws Stop exit 3 where the broker holds readings
 */
export async function mustBeNew(tally: NewTally, world: World): Promise<void> {
  const { folder, register } = tally
  if (existsSync(join(resolve(world.cwd, folder), TALLY_FILE))) return
  const held = (await readingsAt(tally, world)).filter(({ openings, sends, last }) => openings > 0 || sends > 0 || last)
  if (held.length === 0) return
  const marks = firstOf(
    held.map(({ mark }) => mark),
    4,
  )
  throw new Stop(
    EXIT.world,
    `${folder}: there is no tally here, and the broker holds readings of ${register.tally} (${marks}), so there was one: name its folder, or put a backup back with \`sashtally mend --data ${folder} --backups DIR\`; to begin a new one all the same, add --begin-anew`,
  )
}

/** The readings that the broker keeps: those that came before a marker. */
function readingsAt(
  { register: { tally }, keeper, feed: newFeed, link }: NewTally,
  world: World,
): Promise<ReadingNote[]> {
  const topics = tallyTopics(tally)
  const echo = topics.echo(newId(world.now()))
  const feed = newFeed()
  const found: ReadingNote[] = []
  return new Promise((done, failed) => {
    const stops: (() => void)[] = []
    const end = (): void => {
      for (const stop of stops) stop()
      world.signal.removeEventListener('abort', end)
      feed.close().then(() => done(found), failed)
    }
    if (world.signal.aborted) return end()
    world.signal.addEventListener('abort', end)
    feed.listen([topics.filters.openings, topics.filters.echoes])
    feed.open({
      link(state) {
        link(state)
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
