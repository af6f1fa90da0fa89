import { overWebSocket } from './over-web-socket.ts'
import type { Dial } from './socket.ts'

/** Dials `ws:` and `wss:` addresses with the browser's own WebSocket. */
export const dialBrowser: Dial = (url, events) => {
  const { protocol } = new URL(url)
  if (protocol !== 'ws:' && protocol !== 'wss:') {
    throw new Error(`a browser reaches a broker by a ws:// or wss:// address, not by ${protocol}//`)
  }
  return overWebSocket(open(url), events)
}

function open(url: string): WebSocket {
  try {
    return new WebSocket(url, ['mqtt'])
  } catch (error) {
    if (location.protocol === 'https:' && url.startsWith('ws:')) {
      throw new Error('a page on https cannot open ws://: give the broker a certificate and use its wss:// address')
    }
    throw error
  }
}
