import type { AlertNote } from './alert.ts'
import { tallyTopics } from './topics.ts'

/** Content type of an event in structured mode: HTTP binding, section 3.2. */
export const CLOUD_EVENT_TYPE = 'application/cloudevents+json; charset=UTF-8'

/** An event of an alert, with the attributes that the specification requires and three that it knows. */
export interface CloudEvent {
  readonly specversion: '1.0'
  readonly id: string
  readonly source: string
  readonly type: string
  readonly time: string
  readonly datacontenttype: 'application/json'
  readonly data: AlertNote
}

/**
 * An alert as a CloudEvent in the JSON format.
 * @param id - the same for the same alert: a receiver may drop a second one of the same source
 * @param broker - address of the broker at which the tally stands, where the register has it
 * @see CloudEvents 1.0.2, "Required Attributes", and its JSON Event Format
 */
export function cloudEventOf(note: AlertNote, id: string, tally: string, broker = ''): CloudEvent {
  // A URI-reference: what of a topic may not stand in a path is percent-encoded.
  const path = tallyTopics(tally).alert.split('/').map(encodeURIComponent).join('/')
  return {
    specversion: '1.0',
    id,
    source: `${broker.replace(/\/+$/, '')}/${path}`,
    type: `sashtally.alert.${note.what}`,
    time: note.at,
    datacontenttype: 'application/json',
    data: note,
  }
}
