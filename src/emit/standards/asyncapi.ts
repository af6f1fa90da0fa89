import { brokerOf, publishesRetained, topicFault } from '../../register/topics.ts'
import type { Opening, Register, Sender } from '../../register/types.ts'
import { pointerParts } from '../../text/json-pointer.ts'
import type { Problem } from '../../text/problem.ts'
import { type WritableObject, yamlText } from '../../text/yaml-lines.ts'
import type { Emitted } from '../emitted.ts'

const BINDING = '0.2.0'

/**
 * An AsyncAPI 3.1.0 document of the contacts, seen from them: they send.
 * Client id, keep-alive and last will exist only on a server object (MQTT bindings 0.2.0), so each contact
 * has one of its own, all of the same broker.
 * @see https://www.asyncapi.com/docs/reference/specification/v3.1.0
 */
export function asyncapi(register: Register): Emitted {
  const broker = register.broker.mqtt === undefined ? undefined : brokerOf(register.broker.mqtt)
  const problems: Problem[] = []
  if (!broker)
    problems.push(
      problem(
        1,
        'no-broker',
        'A contact needs a broker: give broker: { mqtt: … } in the register, such as mqtt://broker.lan:1883',
      ),
    )
  for (const opening of register.openings) problems.push(...addressProblems(opening))
  if (!broker || problems.length) return { problems, remarks: [] }

  const host = `${broker.host}:${broker.port}`
  const protocol = broker.tls ? 'secure-mqtt' : 'mqtt'
  // Maps, since a mark such as 7 would come first as the key of a plain object.
  const servers = new Map<string, WritableObject>()
  const channels = new Map<string, WritableObject>()
  const operations = new Map<string, WritableObject>()
  for (const opening of register.openings) {
    servers.set(opening.mark, serverOf(opening, host, protocol))
    channels.set(opening.mark, channelOf(opening))
    operations.set(opening.mark, operationOf(opening))
  }
  const text = yamlText(
    {
      asyncapi: '3.1.0',
      info: {
        title: `${register.house}: window and door contacts`,
        version: '1.0.0',
        description:
          'The rest word of a contact that reports openings only comes a few seconds after every opening, whether or not the window was shut: it does not mean closed. Not an intruder alarm and not a life-safety system.',
      },
      defaultContentType: 'text/plain',
      servers,
      channels,
      operations,
    },
    ['Made by sashtally from the register; a change here is lost when it is made again.'],
  )
  return { text, problems, remarks: [] }
}

function serverOf({ mark, name, client, topic, sender }: Opening, host: string, protocol: string): WritableObject {
  return {
    host,
    protocol,
    title: `${mark} ${name}`,
    description: `The connection of contact ${mark} to the broker.`,
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

/** The word of a contact's last will. */
const willWord = ({ reports, words }: Pick<Sender, 'reports' | 'words'>): string =>
  (reports === 'both' ? words.gone : words.rest) ?? ''

function channelOf({ mark, name, topic, sender }: Opening): WritableObject {
  const { words, reports } = sender
  const both = reports === 'both'
  const own = (word: string | undefined, title: string, summary: string): WritableObject | undefined =>
    word === undefined
      ? undefined
      : {
          title,
          summary,
          contentType: sender.json ? 'application/json' : 'text/plain',
          payload: payloadSchema(sender, word),
        }
  // A will is fixed when the contact connects, so it is the bare word even where the contact's own words are JSON.
  const will = (word: string | undefined, title: string, summary: string): WritableObject | undefined =>
    word === undefined
      ? undefined
      : { title, summary, contentType: 'text/plain', payload: { type: 'string', const: word } }
  return {
    address: topic,
    title: `${mark} ${name}`,
    servers: [{ $ref: `#/servers/${mark}` }],
    messages: {
      opened: own(words.opened, 'opened', both ? 'It was opened.' : 'It was opened, and the module got power.'),
      closed: own(words.closed, 'closed', 'It was closed.'),
      rest: will(
        words.rest,
        'rest',
        'The last will, published by the broker after about 1.5 keep-alives of silence. It does not mean closed.',
      ),
      gone: will(words.gone, 'gone', 'The last will, published by the broker when the contact is lost.'),
    },
  }
}

function operationOf(opening: Opening): WritableObject {
  const { mark, name, sender } = opening
  const sent = sender.reports === 'both' ? ['opened', 'closed'] : ['opened']
  return {
    action: 'send',
    channel: { $ref: `#/channels/${mark}` },
    title: `${mark} ${name}`,
    messages: sent.map(word => ({ $ref: `#/channels/${mark}/messages/${word}` })),
    bindings: { mqtt: { qos: sender.qos, retain: publishesRetained(opening), bindingVersion: BINDING } },
  }
}

/** JSON Schema of a payload: the word alone, or JSON that holds it. */
function payloadSchema({ json }: Sender, word: string): WritableObject {
  const leaf: WritableObject = { type: 'string', const: word }
  return (pointerParts(json?.word ?? '') ?? []).reduceRight<WritableObject>(
    (inner, part) => ({ type: 'object', required: [part], properties: { [part]: inner } }),
    leaf,
  )
}

function* addressProblems({ mark, topic, line }: Opening): Generator<Problem> {
  const fault = topicFault(topic)
  if (fault) yield problem(line, fault.code, `The topic of ${mark} ${fault.says}`)
  // An address is a template to AsyncAPI: what stands in braces is a parameter, and MQTT knows none.
  if (/[{}]/.test(topic)) {
    yield problem(
      line,
      'topic-brace',
      `The topic of ${mark} holds a brace, which makes a parameter in an AsyncAPI address: give it a topic without { and }`,
    )
  }
}

const problem = (line: number, code: string, message: string): Problem => ({
  code,
  severity: 'error',
  line,
  column: 1,
  length: 1,
  path: '',
  message,
})
