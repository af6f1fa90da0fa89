import { connect, createServer } from 'node:net'

/** A free TCP port on loopback. Another process may take it before its use, so starting must be tried again. */
export function freePort(): Promise<number> {
  return new Promise((done, failed) => {
    const server = createServer()
    server.once('error', failed)
    server.listen(0, '127.0.0.1', () => {
      const address = server.address()
      server.close(() => (address && typeof address === 'object' ? done(address.port) : failed(new Error('no port'))))
    })
  })
}

/** Whether somebody takes connections there, on loopback. */
export function answers(port: number): Promise<boolean> {
  return new Promise(done => {
    const socket = connect(port, '127.0.0.1')
    socket.once('connect', () => {
      socket.destroy()
      done(true)
    })
    socket.once('error', () => done(false))
  })
}
