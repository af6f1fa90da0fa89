import { asyncapi } from './asyncapi.ts'
import type { Emitter } from './emitted.ts'
import { type HubOptions, hub } from './hub.ts'

/** What the register can be turned into, by the name it has on the command line. */
export const EMITTERS = {
  asyncapi: {
    makes: 'an AsyncAPI document of the contacts: topic, client id, keep-alive and last will of each',
    emit: asyncapi,
  },
  hub: {
    makes: 'YAML entries for your own hub, as a profile or an entry written by hand says',
    emit: hub,
  } satisfies Emitter<HubOptions>,
} as const satisfies Record<string, Emitter<never>>
export type EmitterName = keyof typeof EMITTERS
