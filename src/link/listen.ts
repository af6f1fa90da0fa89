import type { Server as HttpServer } from 'node:http'
import type { AddressInfo, Server } from 'node:net'

/**
 * @returns the port that was taken
 * @throws Error of the operating system, with `code` and `port`
 */
export function listen(server: Server | HttpServer, port: number, host: string): Promise<number> {
  return new Promise((done, failed) => {
    server.once('error', failed)
    server.listen(port, host, () => {
      server.off('error', failed)
      done((server.address() as AddressInfo).port)
    })
  })
}

export const stop = (server: Server | HttpServer): Promise<void> =>
  new Promise(done => (server.listening ? server.close(() => done()) : done()))
