import { type Figures, figuresSchema } from '../../protocol/figures.ts'
import { jsonSchema } from '../../protocol/json-schema.ts'
import { publishesRetained } from '../../register/topics.ts'
import type { Opening, Sender } from '../../register/types.ts'
import { pointerParts } from '../../text/json-pointer.ts'
import type { WritableObject } from '../../text/yaml-lines.ts'

/** One kind of message on a contact's topic: its own word, or the last will that the broker publishes for it. */
export interface ContactMessage {
  readonly name: 'opened' | 'closed' | 'rest' | 'gone'
  readonly summary: string
  readonly isWill: boolean
  readonly isRetained: boolean
  readonly contentType: 'text/plain' | 'application/json'
  /** JSON Schema of the payload. */
  readonly payload: WritableObject
}

/** The word of a contact's last will. */
export const willWord = ({ reports, words }: Pick<Sender, 'reports' | 'words'>): string =>
  (reports === 'both' ? words.gone : words.rest) ?? ''

/** Every message on the topic of a contact: what descriptions of it in any standard are made from. */
export function contactMessages(opening: Opening): ContactMessage[] {
  const { sender } = opening
  const { words, reports } = sender
  const messages: ContactMessage[] = []
  const own = (name: 'opened' | 'closed', word: string | undefined, summary: string): void => {
    if (word === undefined) return
    messages.push({
      name,
      summary,
      isWill: false,
      isRetained: publishesRetained(opening),
      contentType: sender.json ? 'application/json' : 'text/plain',
      payload: ownPayload(sender, word),
    })
  }
  // A will is fixed when the contact connects, so it is the bare word even where the contact's own words are JSON.
  const will = (name: 'rest' | 'gone', word: string | undefined, summary: string): void => {
    if (word === undefined) return
    const payload = { type: 'string', const: word }
    messages.push({ name, summary, isWill: true, isRetained: true, contentType: 'text/plain', payload })
  }
  own('opened', words.opened, reports === 'both' ? 'It was opened.' : 'It was opened, and the module got power.')
  own('closed', words.closed, 'It was closed.')
  will(
    'rest',
    words.rest,
    'The last will, published by the broker after about 1.5 keep-alives of silence. It does not mean closed.',
  )
  will('gone', words.gone, 'The last will, published by the broker when the contact is lost.')
  return messages
}

/** Where something stands in a payload, its JSON Schema, and whether it is always there. */
interface PayloadPart {
  readonly keys: readonly string[]
  readonly schema: WritableObject
  readonly isRequired: boolean
}

/** What the figures beside the word are; those that a payload lacks are left out by its reader. */
const FIGURES = {
  boots: 'How often the contact has started.',
  millivolts: 'Lowest volts under load between the start and the acknowledgement, in mV.',
  revision: 'Revision of the header that was flashed.',
  joinMilliseconds: 'From the opening to the word, in milliseconds.',
} as const satisfies Record<keyof Figures, string>

/** JSON Schema of a payload: the word alone, or JSON that holds the word and the figures of its register. */
function ownPayload({ json }: Sender, word: string): WritableObject {
  const leaf: WritableObject = { type: 'string', const: word }
  if (!json) return leaf
  const figures = (Object.keys(FIGURES) as (keyof Figures)[]).flatMap((name): PayloadPart[] => {
    const pointer = json[name]
    if (pointer === undefined) return []
    const { $schema: _, ...schema } = jsonSchema(figuresSchema._zod.def.shape[name], 'draft-07')
    const description = FIGURES[name]
    return [{ keys: keysOf(pointer), schema: { description, ...(schema as WritableObject) }, isRequired: false }]
  })
  return objectOf([{ keys: keysOf(json.word), schema: leaf, isRequired: true }, ...figures])
}

const keysOf = (pointer: string): readonly string[] => pointerParts(pointer) ?? []

/** Parts that stand under the same key share its object; none leads into another, the register sees to that. */
function objectOf(parts: readonly PayloadPart[]): WritableObject {
  const leaf = parts.find(({ keys }) => keys.length === 0)
  if (leaf) return leaf.schema
  const groups = new Map<string, PayloadPart[]>()
  for (const {
    keys: [key = '', ...keys],
    ...part
  } of parts)
    groups.set(key, [...(groups.get(key) ?? []), { keys, ...part }])
  const required = [...groups].flatMap(([key, group]) => (group.some(({ isRequired }) => isRequired) ? [key] : []))
  return {
    type: 'object',
    ...(required.length > 0 && { required }),
    properties: Object.fromEntries([...groups].map(([key, group]) => [key, objectOf(group)])),
  }
}

/** For every contact. */
export const NO_ALARM = 'Not an intruder alarm and not a life-safety system.'
/** Where contacts may report openings only. */
export const CONTACTS_CAUTION = `The rest word of a contact that reports openings only comes a few seconds after every opening, whether or not the window was shut: it does not mean closed. ${NO_ALARM}`
