import type { Socket, SocketEvents } from './socket.ts'

/** The part of a WebSocket that browsers and Node's package have alike. */
interface AnyWebSocket {
  binaryType: string
  readonly readyState: number
  send(bytes: Uint8Array<ArrayBuffer>): void
  close(): void
  addEventListener(name: 'open' | 'close', listener: () => void): void
  addEventListener(name: 'message', listener: (event: { readonly data: unknown }) => void): void
  addEventListener(name: 'error', listener: (event: { readonly message?: string }) => void): void
  /** Node's package only: does not wait for the other side. */
  terminate?(): void
}

const OPEN = 1

/** MQTT over a WebSocket, one binary frame for each `send`: MQTT 3.1.1 and 5.0, section 6. */
export function overWebSocket(socket: AnyWebSocket, events: SocketEvents): Socket {
  let isOver = false
  let error: Error | undefined
  const close = () => {
    if (isOver) return
    isOver = true
    events.closed(error)
  }
  socket.binaryType = 'arraybuffer'
  socket.addEventListener('open', () => events.open())
  socket.addEventListener('message', ({ data }) => {
    if (!isOver && data instanceof ArrayBuffer) events.bytes(new Uint8Array(data))
  })
  socket.addEventListener('error', ({ message }) => {
    // A browser does not tell a page what went wrong.
    error = new Error(message || 'the WebSocket could not be opened, or broke')
  })
  socket.addEventListener('close', close)
  return {
    send: bytes => {
      if (socket.readyState === OPEN) socket.send(bytes as Uint8Array<ArrayBuffer>)
    },
    end: () => socket.close(),
    destroy: () => {
      if (socket.terminate) socket.terminate()
      else socket.close()
    },
  }
}
