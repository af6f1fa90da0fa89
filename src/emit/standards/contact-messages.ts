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

/** JSON Schema of a payload: the word alone, or JSON that holds it. */
function ownPayload({ json }: Sender, word: string): WritableObject {
  const leaf: WritableObject = { type: 'string', const: word }
  return (pointerParts(json?.word ?? '') ?? []).reduceRight<WritableObject>(
    (inner, part) => ({ type: 'object', required: [part], properties: { [part]: inner } }),
    leaf,
  )
}

export const CONTACTS_CAUTION =
  'The rest word of a contact that reports openings only comes a few seconds after every opening, whether or not the window was shut: it does not mean closed. Not an intruder alarm and not a life-safety system.'
