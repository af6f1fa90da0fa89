import mqtt from 'mqtt'
import type { Dial } from './dial.ts'

/** Dials `ws:` and `wss:` addresses with the browser's own WebSocket. */
export const dialBrowser: Dial = (url, options, gate) => {
  const { protocol } = new URL(url)
  if (protocol !== 'ws:' && protocol !== 'wss:') {
    throw new Error(`a browser reaches a broker by a ws:// or wss:// address, not by ${protocol}//`)
  }
  // The first socket is made here, so that what the page forbids is thrown to the caller.
  const sockets = [open(url)]
  return mqtt.connect(url, {
    ...options,
    createWebsocket: () => {
      const socket = sockets.pop() ?? open(url)
      const send = socket.send.bind(socket)
      socket.send = bytes => {
        const out = gate.pass(bytes as Uint8Array)
        if (out.length) send(out as Uint8Array<ArrayBuffer>)
      }
      gate.connect(bytes => {
        if (socket.readyState === WebSocket.OPEN) send(bytes as Uint8Array<ArrayBuffer>)
      })
      return socket
    },
  })
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
