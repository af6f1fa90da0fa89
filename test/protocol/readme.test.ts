import { describe, expect, test } from 'vitest'
import { parseEntry } from '../../src/cli/store/tally-file.ts'
import { parseAlert } from '../../src/protocol/alert.ts'
import { parseEcho } from '../../src/protocol/echo.ts'
import { entrySchema } from '../../src/protocol/entry.ts'
import { parseHeard } from '../../src/protocol/heard-note.ts'
import { parseKeeper } from '../../src/protocol/keeper-note.ts'
import { PAYLOADS } from '../../src/protocol/payloads.ts'
import { parseReading } from '../../src/protocol/reading.ts'
import { parseRegisterNote } from '../../src/protocol/register-note.ts'
import { parseSay } from '../../src/protocol/say.ts'
import { parseStory } from '../../src/protocol/story.ts'
import { type TopicKind, tallyPlace, tallyTopics } from '../../src/protocol/topics.ts'
import { EXAMPLES, LINES, ROWS } from './readme.ts'

const KINDS = Object.keys(PAYLOADS) as TopicKind[]
const topics = tallyTopics('ropewalk/tally')

describe('the page of the wire', () => {
  test('has every topic, as the table of payloads has it', () => {
    const rows = KINDS.map(kind => {
      const { topic, writer, retained } = PAYLOADS[kind]
      const name = topic(topics)
        .slice('ropewalk/tally'.length)
        .replace(/\{(\w+)\}/, '<$1>')
      return { topic: name, kind, writer, retained }
    })
    expect(ROWS).toEqual(rows)
    expect(tallyPlace('ropewalk/tally', topics.story('W02'))).toEqual({ kind: 'story', mark: 'W02' })
    expect(tallyPlace('ropewalk/tally', topics.alert)).toEqual({ kind: 'alert' })
  })

  const readers: Record<Exclude<TopicKind, 'plain' | 'say'>, (text: string) => unknown> = {
    register: parseRegisterNote,
    opening: parseReading,
    story: parseStory,
    keeper: parseKeeper,
    alert: parseAlert,
    heard: parseHeard,
    echo: parseEcho,
  }

  test.each(Object.entries(readers))('has examples of %s that are read whole', (kind, read) => {
    const examples = EXAMPLES[kind as TopicKind]
    expect(examples.length).toBeGreaterThan(0)
    for (const text of examples) expect(read(text)).toEqual(JSON.parse(text))
  })

  test('has examples of says that are taken', () => {
    expect(EXAMPLES.say.length).toBeGreaterThan(0)
    for (const text of EXAMPLES.say) {
      const { at, ...say } = JSON.parse(text)
      const utc = at === undefined ? {} : { at: new Date(at).toISOString() }
      expect(parseSay(text)).toEqual({ say: { ...say, ...utc } })
    }
  })

  test('has every plain word', () =>
    expect(EXAMPLES.plain.every(word => PAYLOADS.plain.schema.safeParse(word).success) && EXAMPLES.plain).toHaveLength(
      3,
    ))

  test('has lines of a tally with every field of an entry', () => {
    expect(LINES.length).toBeGreaterThan(0)
    for (const line of LINES) expect(parseEntry(line)).toEqual({ entry: JSON.parse(line) })
    const shown = new Set(LINES.flatMap(line => Object.keys(JSON.parse(line))))
    const rare = ['sends', 'text', 'note', 'revision']
    expect([...shown, ...rare].sort()).toEqual(Object.keys(entrySchema._zod.def.shape).sort())
  })

  test('shows every field of every payload at least once', () => {
    for (const kind of ['opening', 'register', 'story', 'keeper', 'heard', 'echo', 'alert', 'say'] as const) {
      const keys = new Set(EXAMPLES[kind].flatMap(text => Object.keys(JSON.parse(text))))
      const def = PAYLOADS[kind].schema._zod.def as unknown as { shape: object }
      expect([...keys].sort(), kind).toEqual(Object.keys(def.shape).sort())
    }
  })
})
