import { createHash } from 'node:crypto'
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { createServer as createHttpsServer } from 'node:https'
import { gzipSync } from 'node:zlib'
import { listen, stop } from '../../link/listen.ts'
import { isOwnHost } from '../../link/own-host.ts'
import { type Lang, langOf, takesGzip } from './wishes.ts'

/** One file that may be had; nothing else is. */
export interface PageFile {
  readonly type:
    | 'text/html'
    | 'text/css'
    | 'text/javascript'
    | 'text/yaml'
    | 'text/calendar'
    | 'application/json'
    | 'application/manifest+json'
    | 'image/svg+xml'
    | 'image/png'
  /** Undefined: there is none yet. */
  readonly body: string | Uint8Array | ((asked: Asked) => string | undefined | Promise<string>)
}

export interface Asked {
  /** Host name under which the page was asked for. */
  readonly hostname: string
  readonly lang: Lang
  /** What is said at that wall is signed so: `?by=Hall` in its address. */
  readonly by?: string | undefined
  /** Only what is new since: `?after=`, as an earlier answer named it. */
  readonly after?: string | undefined
}

/** What is made anew for whoever asks. */
export interface Answer {
  readonly status: number
  readonly type: string
  readonly body: string
}

export interface PageOptions {
  /** Certificate and key, PEM text: the page is served over TLS only. */
  readonly tls?: { readonly cert: string; readonly key: string }
  /** Files by path, such as `/` and `/sash-tally.js`. */
  readonly files: ReadonlyMap<string, PageFile>
  /** Files that come and go while it is served, for a path that `files` has not. */
  fileAt?(path: string): PageFile | undefined
  /** What changes while it is served, by path; `from` is the address that asks. */
  readonly answers?: ReadonlyMap<string, (from: string) => Answer>
  readonly port: number
  /** Address to listen on; default 127.0.0.1. */
  readonly host?: string
  /** Host names under which the page may be asked for, beside `localhost` and plain addresses. */
  readonly names?: readonly string[]
}

export interface Page {
  readonly url: string
  readonly port: number
  close(): Promise<void>
}

export const PLAIN_TEXT = 'text/plain; charset=utf-8'

/** Nothing but the page's own files and a broker; no script from text. */
export const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self'",
  "connect-src 'self' ws: wss:",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
  "require-trusted-types-for 'script'",
  'trusted-types lit-html',
].join('; ')

/** Shorter texts are sent as they are. */
const LEAST_ZIPPED = 1_024

/** How hard a body is zipped that is made for each who asks. */
const QUICK = 1

/**
 * A body as it goes out. Browsers offer brotli over https alone, and a wall of the house is mostly http: so gzip. It is
 * made at the start: 10 ms for the card, which as a file would make the package a fifth larger.
 */
const sent = (body: string | Uint8Array, level = 9): { readonly tag: string; readonly gzip?: Buffer } => ({
  tag: createHash('sha256').update(body).digest('base64url'),
  ...(typeof body !== 'string' || body.length < LEAST_ZIPPED ? {} : { gzip: gzipSync(body, { level }) }),
})

/**
 * Serves files that are made here, none from the disk by its path, with the strictest policy the card works under.
 * @throws Error of the operating system, with `code` and `port`, when the port cannot be had
 */
export async function startPage(options: PageOptions): Promise<Page> {
  const { files, answers, host = '127.0.0.1', names = [], tls } = options
  const lasting = new Map(
    [...files].map(([path, { body }]) => [path, typeof body === 'function' ? undefined : sent(body)]),
  )
  const answer = async (request: IncomingMessage, response: ServerResponse): Promise<void> => {
    const give = ({ status, type, body }: Answer): void =>
      void response
        .writeHead(status, {
          'content-type': type,
          'content-security-policy': POLICY,
          'x-content-type-options': 'nosniff',
          'cache-control': 'no-store',
        })
        .end(request.method === 'HEAD' ? undefined : body)
    const say = (status: number, text: string) => give({ status, type: PLAIN_TEXT, body: `${text}\n` })
    if (!isOwnHost(request.headers.host, names)) return say(421, 'this page is not served under that name')
    if (request.method !== 'GET' && request.method !== 'HEAD') return say(405, 'only GET and HEAD')
    const [path = '', query] = (request.url ?? '').split('?')
    const made = answers?.get(path)
    if (made) return give(made(request.socket.remoteAddress ?? ''))
    const file = files.get(path) ?? options.fileAt?.(path)
    if (!file) return say(404, 'no such file')
    const hostname = (request.headers.host ?? '').replace(/:\d+$/, '')
    const lang = langOf(request.headers['accept-language'])
    const wish = (name: string): string | undefined => new URLSearchParams(query).get(name) || undefined
    const body =
      typeof file.body === 'function'
        ? await file.body({ hostname, lang, by: wish('by'), after: wish('after') })
        : file.body
    if (body === undefined) return say(503, 'not yet: try again in a moment')
    const { tag, gzip } = lasting.get(path) ?? sent(body, QUICK)
    const zipped = takesGzip(request.headers['accept-encoding']) ? gzip : undefined
    // Each encoding is a representation of its own (RFC 9110, section 8.8.3.3).
    const etag = `"${tag}${zipped ? '-gzip' : ''}"`
    const unchanged = request.headers['if-none-match'] === etag
    response.writeHead(unchanged ? 304 : 200, {
      'content-type': typeof body === 'string' ? `${file.type}; charset=utf-8` : file.type,
      'content-security-policy': POLICY,
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
      'cross-origin-resource-policy': 'same-origin',
      'cache-control': 'no-cache',
      vary: 'accept-language, accept-encoding',
      etag,
      ...(zipped ? { 'content-encoding': 'gzip' } : {}),
    })
    response.end(unchanged || request.method === 'HEAD' ? undefined : (zipped ?? body))
  }
  const takes = (request: IncomingMessage, response: ServerResponse): void => void answer(request, response)
  const server = tls ? createHttpsServer(tls, takes) : createServer(takes)
  const port = await listen(server, options.port, host)
  return {
    url: `http${tls ? 's' : ''}://${host.includes(':') ? `[${host}]` : host}:${port}/`,
    port,
    async close() {
      server.closeAllConnections()
      await stop(server)
    },
  }
}
