import { jsonSchemaOf } from '../../protocol/json-schema.ts'
import { PAYLOADS } from '../../protocol/payloads.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Opening, Register } from '../../register/types.ts'
import { uuidOf } from '../../text/uuid.ts'
import type { WritableObject } from '../../text/yaml-lines.ts'
import type { Emitted } from '../emitted.ts'
import { brokerFor, hostOf } from './address.ts'
import { CONTACTS_CAUTION, contactMessages, NO_ALARM } from './contact-messages.ts'

const CONTEXT = ['https://www.w3.org/2022/wot/td/v1.1', { '@language': 'en', mqv: 'https://www.w3.org/2019/wot/mqtt#' }]

/** An account or none: the register does not know which, and holds no passwords. */
const SECURITY = {
  securityDefinitions: {
    open: { scheme: 'nosec' },
    account: { scheme: 'basic', in: 'auto', description: 'User and password of an account of the broker.' },
    either: { scheme: 'combo', oneOf: ['open', 'account'] },
  },
  security: 'either',
}

/**
 * A JSON array of W3C Thing Descriptions 1.1, one an opening: its plain word as a property, and each message of its
 * contact as an event, over MQTT.
 * @see https://www.w3.org/TR/wot-thing-description11/ and the MQTT vocabulary of the W3C's binding templates
 */
export function things(register: Register): Emitted {
  const { broker, nodes, problems } = brokerFor(register)
  if (!broker) return { problems, remarks: [] }
  const hrefs = nodes.map(node => `${node.tls ? 'mqtts' : 'mqtt'}://${hostOf(node)}`)
  const all = register.openings.map(opening => thingOf(opening, register, hrefs))
  return { text: `${JSON.stringify(all, null, 2)}\n`, problems, remarks: [] }
}

function thingOf(opening: Opening, { tally }: Register, hrefs: readonly string[]): WritableObject {
  const { mark, name, room, topic, sender, revision } = opening
  // Forms are ways to the same thing: a node of the broker each.
  const forms = (op: string, filter: string, more: { contentType: string; qos: number; isRetained: boolean }) =>
    hrefs.map(href => ({
      href,
      op,
      contentType: more.contentType,
      'mqv:controlPacket': 'subscribe',
      'mqv:filter': filter,
      'mqv:qos': String(more.qos),
      'mqv:retain': more.isRetained,
    }))
  const { $schema: _, description, ...word } = jsonSchemaOf('plain', 'draft-07')
  const { retained, content } = PAYLOADS.plain
  const plain = forms('observeproperty', tallyTopics(tally).plain(mark), {
    contentType: content,
    qos: 1,
    isRetained: retained,
  })
  return {
    '@context': CONTEXT,
    id: `urn:uuid:${uuidOf(`${tally}\n${mark}`)}`,
    title: `${mark} ${name}`,
    description: `${room === undefined ? '' : `${room}. `}${sender.reports === 'both' ? NO_ALARM : CONTACTS_CAUTION}`,
    version: { instance: revision },
    ...SECURITY,
    properties: {
      plain: {
        ...(word as WritableObject),
        title: 'plain word',
        description: `${description} Published by the keeper of the tally.`,
        readOnly: true,
        observable: true,
        forms: plain,
      },
    },
    events: Object.fromEntries(
      contactMessages(opening).map(({ name: title, summary, payload, contentType, isRetained }) => [
        title,
        {
          title,
          description: summary,
          data: payload,
          forms: forms('subscribeevent', topic, { contentType, qos: sender.qos, isRetained }),
        },
      ]),
    ),
  }
}
