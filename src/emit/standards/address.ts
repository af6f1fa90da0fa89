import { addressesOf, type Broker, brokerOf, topicFault } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'

/** The broker that contacts and keeper connect to, or why a description of them cannot name one. */
export function brokerFor({ broker }: Register): {
  broker?: Broker
  /** Every node of it, the first among them. */
  nodes: readonly Broker[]
  problems: readonly Problem[]
} {
  const nodes = addressesOf(broker, 'mqtt').flatMap(each => brokerOf(each) ?? [])
  const [first] = nodes
  if (first) return { broker: first, nodes, problems: [] }
  const says = 'A contact needs a broker: give broker: { mqtt: … } in the register, such as mqtt://broker.lan:1883'
  return { nodes: [], problems: [problemAt(1, 'no-broker', says)] }
}

/** What keeps a topic from being an address of AsyncAPI, where braces are parameters and MQTT knows none. */
export function* addressProblems(what: string, topic: string, line: number): Generator<Problem> {
  const fault = topicFault(topic)
  if (fault) yield problemAt(line, fault.code, `The topic of ${what} ${fault.says}`)
  if (/[{}]/.test(topic))
    yield problemAt(
      line,
      'topic-brace',
      `The topic of ${what} holds a brace, which makes a parameter in an AsyncAPI address: give it a topic without { and }`,
    )
}

export const protocolOf = ({ tls }: Broker): 'mqtt' | 'secure-mqtt' => (tls ? 'secure-mqtt' : 'mqtt')
export const hostOf = ({ host, port }: Broker): string => `${host}:${port}`

/** The end of a description where the broker has further nodes: a server object of AsyncAPI names one host. */
export const otherNodes = ([, ...nodes]: readonly Broker[]): string =>
  nodes.length ? ` The broker is a cluster; where this node does not answer: ${nodes.map(hostOf).join(', ')}.` : ''

const problemAt = (line: number, code: string, message: string): Problem => ({
  code,
  severity: 'error',
  line,
  column: 1,
  length: 1,
  path: '',
  message,
})
