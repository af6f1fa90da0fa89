import type { Opening, Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import { type WritableObject, yamlText } from '../../text/yaml-lines.ts'
import type { Emitted } from '../emitted.ts'
import { addressProblems, brokerFor, hostOf, otherNodes, protocolOf } from './address.ts'
import { CONTACTS_CAUTION, contactMessages, willWord } from './contact-messages.ts'

export const ASYNCAPI = '3.1.0'
/** Version of the MQTT bindings. */
export const BINDING = '0.2.0'
export const MADE_BY = 'Made by sashtally from the register; a change here is lost when it is made again.'

/**
 * An AsyncAPI 3.1.0 document of the contacts, seen from them: they send.
 * Client id, keep-alive and last will exist only on a server object (MQTT bindings 0.2.0), so each contact
 * has one of its own, all of the same broker.
 * @see https://www.asyncapi.com/docs/reference/specification/v3.1.0
 * @example
 * import { asyncapiOfContacts, parseRegister } from 'sashtally'
 * const { register } = parseRegister(`
 * house: Ropewalk Studios
 * timezone: Europe/Lisbon
 * broker: { mqtt: 'mqtt://127.0.0.1:1883' }
 * tally: ropewalk/tally
 * senders:
 *   coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
 * openings: [{ mark: W01, name: Rope loft, sender: coin }]
 * `)
 * console.log(asyncapiOfContacts(register!).text?.includes('3.1.0')) // true
 */
export function asyncapi(register: Register): Emitted {
  const { broker, nodes, problems: missing } = brokerFor(register)
  const problems: Problem[] = [...missing]
  for (const { mark, topic, line } of register.openings) problems.push(...addressProblems(mark, topic, line))
  if (!broker || problems.length) return { problems, remarks: [] }

  // Maps, since a mark such as 7 would come first as the key of a plain object.
  const servers = new Map<string, WritableObject>()
  const channels = new Map<string, WritableObject>()
  const operations = new Map<string, WritableObject>()
  for (const opening of register.openings) {
    servers.set(opening.mark, serverOf(opening, hostOf(broker), protocolOf(broker), otherNodes(nodes)))
    channels.set(opening.mark, channelOf(opening))
    operations.set(opening.mark, operationOf(opening))
  }
  const info = {
    title: `${register.house}: window and door contacts`,
    version: '1.0.0',
    description: CONTACTS_CAUTION,
  }
  const document = { asyncapi: ASYNCAPI, info, defaultContentType: 'text/plain', servers, channels, operations }
  return { text: yamlText(document, [MADE_BY]), problems, remarks: [] }
}

function serverOf(
  { mark, name, client, topic, sender }: Opening,
  host: string,
  protocol: string,
  others: string,
): WritableObject {
  return {
    host,
    protocol,
    title: `${mark} ${name}`,
    description: `The connection of contact ${mark} to the broker.${others}`,
    bindings: {
      mqtt: {
        clientId: client,
        keepAlive: sender.keepAliveSeconds,
        lastWill: { topic, qos: sender.qos, message: willWord(sender), retain: true },
        bindingVersion: BINDING,
      },
    },
  }
}

function channelOf(opening: Opening): WritableObject {
  const { mark, name, topic } = opening
  return {
    address: topic,
    title: `${mark} ${name}`,
    servers: [{ $ref: `#/servers/${mark}` }],
    messages: Object.fromEntries(
      contactMessages(opening).map(({ name: title, summary, contentType, payload }) => [
        title,
        { title, summary, contentType, payload },
      ]),
    ),
  }
}

function operationOf(opening: Opening): WritableObject {
  const { mark, name, sender } = opening
  const sent = contactMessages(opening).filter(({ isWill }) => !isWill)
  return {
    action: 'send',
    channel: { $ref: `#/channels/${mark}` },
    title: `${mark} ${name}`,
    messages: sent.map(({ name: word }) => ({ $ref: `#/channels/${mark}/messages/${word}` })),
    bindings: {
      mqtt: { qos: sender.qos, retain: sent.every(({ isRetained }) => isRetained), bindingVersion: BINDING },
    },
  }
}
