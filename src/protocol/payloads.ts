/** Every topic of the tally with its payload: the one table behind the page of the wire and the JSON Schemas. */
import type * as z from 'zod/mini'
import { alertSchema } from './alert.ts'
import { echoSchema } from './echo.ts'
import { heardSchema } from './heard-note.ts'
import { keeperSchema } from './keeper-note.ts'
import { plainSchema } from './plain.ts'
import { readingSchema } from './reading.ts'
import { registerSchema } from './register-note.ts'
import { saySchema } from './say.ts'
import { storySchema } from './story.ts'
import type { TallyTopics, TopicKind } from './topics.ts'

export interface Payload {
  /** The topic; `{mark}` or `{id}` stands where one of them does. */
  topic(topics: TallyTopics): string
  readonly schema: z.ZodMiniType
  readonly content: 'application/json' | 'text/plain'
  /** All are published at QoS 1. */
  readonly retained: boolean
  /** Account that writes it. */
  readonly writer: 'keeper' | 'hand'
  /** What it is, as a sentence. */
  readonly says: string
}

const json = { content: 'application/json', writer: 'keeper' } as const

export const PAYLOADS: Readonly<Record<TopicKind, Payload>> = {
  register: {
    ...json,
    topic: topics => topics.register,
    schema: registerSchema,
    retained: true,
    says: 'What a wall needs to know of the house: nothing of topics, client ids, broker, Wi-Fi or prices.',
  },
  opening: {
    ...json,
    topic: topics => topics.opening('{mark}'),
    schema: readingSchema,
    retained: true,
    says: 'The reading of one opening: its position, what speaks against it, its counts and what its cell has left.',
  },
  plain: {
    ...json,
    topic: topics => topics.plain('{mark}'),
    schema: plainSchema,
    content: 'text/plain',
    retained: true,
    says: 'The one word that a hub may believe: closed only when that is known.',
  },
  story: {
    ...json,
    topic: topics => topics.story('{mark}'),
    schema: storySchema,
    retained: true,
    says: 'What one opening did: thirteen months, its last openings, its cells so far.',
  },
  keeper: {
    ...json,
    topic: topics => topics.keeper,
    schema: keeperSchema,
    retained: true,
    says: 'The state of the keeper, with a beat every 30 seconds; its last will says gone.',
  },
  alert: {
    ...json,
    topic: topics => topics.alert,
    schema: alertSchema,
    retained: false,
    says: 'Something that the register asked to be told of, once; no alert does not mean that all is shut.',
  },
  say: {
    ...json,
    topic: topics => topics.say('{mark}'),
    schema: saySchema,
    retained: false,
    writer: 'hand',
    says: 'What a person saw or did at one opening.',
  },
  heard: {
    ...json,
    topic: topics => topics.heard('{id}'),
    schema: heardSchema,
    retained: false,
    says: 'The answer to the say of that id, once it is in the store or refused.',
  },
  echo: {
    ...json,
    topic: topics => topics.echo('{id}'),
    schema: echoSchema,
    retained: false,
    says: 'Marker by which a keeper knows that all that waited has come, and the question whether another is at work.',
  },
}
