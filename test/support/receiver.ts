import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { listen, stop } from '../../src/link/listen.ts'

export interface Posted {
  readonly method: string | undefined
  readonly path: string | undefined
  readonly headers: IncomingMessage['headers']
  readonly body: Record<string, unknown> & { readonly data: { readonly what: string; readonly marks: string[] } }
}

/** A real HTTP server that takes what is posted and answers as it is told. */
export class Receiver {
  readonly posted: Posted[] = []
  /** Status of the next answers; `stall`: none comes; `die`: the connection is cut. */
  answer: number | 'stall' | 'die' = 204
  readonly #server = createServer((request, response) => void this.#take(request, response))
  port = 0

  async start(): Promise<this> {
    this.port = await listen(this.#server, this.port, '127.0.0.1')
    return this
  }

  get url(): string {
    return `http://127.0.0.1:${this.port}`
  }

  async #take(request: IncomingMessage, response: ServerResponse): Promise<void> {
    let text = ''
    for await (const chunk of request) text += chunk
    const { method, url: path, headers } = request
    this.posted.push({ method, path, headers, body: JSON.parse(text) })
    if (this.answer === 'stall') return
    if (this.answer === 'die') request.socket.destroy()
    else response.writeHead(this.answer, { location: '/elsewhere' }).end('well')
  }

  async stop(): Promise<void> {
    this.#server.closeAllConnections()
    await stop(this.#server)
  }
}
