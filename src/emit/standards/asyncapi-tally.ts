import { jsonSchemaOf } from '../../protocol/json-schema.ts'
import { PAYLOADS } from '../../protocol/payloads.ts'
import { type TopicKind, tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import { type Writable, type WritableObject, yamlText } from '../../text/yaml-lines.ts'
import type { Emitted } from '../emitted.ts'
import { addressProblems, brokerFor, hostOf, otherNodes, protocolOf } from './address.ts'
import { ASYNCAPI, BINDING, MADE_BY } from './asyncapi.ts'

const KINDS = Object.keys(PAYLOADS) as TopicKind[]

/**
 * An AsyncAPI 3.1.0 document of the tally's topics, seen from the keeper, with the schema of every payload inline.
 * @see https://www.asyncapi.com/docs/reference/specification/v3.1.0
 */
export function asyncapiOfTally(register: Register): Emitted {
  const { broker, nodes, problems: missing } = brokerFor(register)
  const problems: Problem[] = [...missing, ...addressProblems('the tally', register.tally, 1)]
  if (!broker || problems.length) return { problems, remarks: [] }
  const document = {
    asyncapi: ASYNCAPI,
    info: {
      title: `${register.house}: the tally`,
      version: '1.0.0',
      description:
        'What the keeper of the tally publishes, and what may be said to it. A hub listens to the plain word: closed is said only of what is known to be shut. A retained copy tells what was so, not that it just happened. Not an intruder alarm and not a life-safety system.',
    },
    defaultContentType: 'application/json',
    servers: {
      broker: {
        host: hostOf(broker),
        protocol: protocolOf(broker),
        title: 'The broker of the house',
        ...(nodes.length > 1 && { description: otherNodes(nodes).trim() }),
      },
    },
    channels: Object.fromEntries(KINDS.map(kind => [kind, channelOf(kind, register)])),
    operations: Object.fromEntries(KINDS.map(kind => [kind, operationOf(kind)])),
  }
  return { text: yamlText(document, [MADE_BY]), problems, remarks: [] }
}

function channelOf(kind: TopicKind, { tally, openings }: Register): WritableObject {
  const { topic, says, content } = PAYLOADS[kind]
  const address = topic(tallyTopics(tally))
  const mark = { description: 'Mark of an opening.', enum: openings.map(({ mark: each }) => each) }
  const id = { description: 'Id that whoever asked has chosen: 1 to 36 of 0-9, A-Z, a-z and hyphen.' }
  const { $schema: _, description: __, ...payload } = jsonSchemaOf(kind, 'draft-07')
  return {
    address,
    title: kind,
    servers: [{ $ref: '#/servers/broker' }],
    ...(address.includes('{mark}') && { parameters: { mark } }),
    ...(address.includes('{id}') && { parameters: { id } }),
    messages: {
      [kind]: { title: kind, summary: says, contentType: content, payload: payload as { [key: string]: Writable } },
    },
  }
}

function operationOf(kind: TopicKind): WritableObject {
  const { retained, writer } = PAYLOADS[kind]
  return {
    action: writer === 'keeper' ? 'send' : 'receive',
    channel: { $ref: `#/channels/${kind}` },
    title: kind,
    messages: [{ $ref: `#/channels/${kind}/messages/${kind}` }],
    bindings: { mqtt: { qos: 1, retain: retained, bindingVersion: BINDING } },
    ...(kind === 'say' && { reply: { channel: { $ref: '#/channels/heard' } } }),
  }
}
