import { readFileSync } from 'node:fs'
import type { TopicKind } from '../../src/protocol/topics.ts'

const TEXT = readFileSync(new URL('../../src/protocol/README.md', import.meta.url), 'utf8')

export interface TopicRow {
  readonly topic: string
  readonly kind: string
  readonly writer: string
  readonly retained: boolean
}

/** The table of topics. */
export const ROWS: readonly TopicRow[] = [
  ...TEXT.matchAll(/^\| `<tally>(\/[^`]+)` +\| (\S+) +\| (\S+) +\| (yes|no) +\| .+ \|$/gm),
].map(([, topic = '', kind = '', writer = '', retained]) => ({ topic, kind, writer, retained: retained === 'yes' }))

const blocks = (text: string, language: string): string[] =>
  [...text.matchAll(/^```(\w+)\n([\s\S]*?)\n```$/gm)]
    .filter(([, name]) => name === language)
    .map(([, , body = '']) => body)

const sections = new Map(
  TEXT.split(/^## /m)
    .slice(1)
    .map(section => [section.slice(0, section.indexOf('\n')), section] as const),
)

/** Payloads of each kind of topic, as they would be published. */
export const EXAMPLES = Object.fromEntries(
  ROWS.map(({ topic, kind }) => {
    const section = sections.get(`\`<tally>${topic}\``) ?? ''
    return [kind, [...blocks(section, 'json'), ...blocks(section, 'text')]]
  }),
) as Record<string, readonly string[]> as Readonly<Record<TopicKind, readonly string[]>>

/** Lines of a tally file. */
export const LINES: readonly string[] = blocks(sections.get('Entries') ?? '', 'jsonl').flatMap(text => text.split('\n'))
