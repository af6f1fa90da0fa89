import { connect } from 'node:net'
import type { Broker } from '../../register/topics.ts'

/** As long as a contact waits for one of several nodes (contact.h: CONTACT_NODE_MILLISECONDS). */
const WAIT_MILLISECONDS = 1_200

/** The first node of a broker that takes a connection, as a contact looks for it; the first of all where none does. */
export async function openNode(nodes: readonly Broker[]): Promise<Broker | undefined> {
  if (nodes.length > 1) for (const node of nodes) if (await takes(node)) return node
  return nodes[0]
}

const takes = ({ host, port }: Broker): Promise<boolean> =>
  new Promise(done => {
    const socket = connect({ host: host.replace(/^\[|\]$/g, ''), port, timeout: WAIT_MILLISECONDS })
    const end = (isOpen: boolean) => {
      socket.destroy()
      done(isOpen)
    }
    socket.once('connect', () => end(true))
    socket.once('timeout', () => end(false))
    socket.once('error', () => end(false))
  })
