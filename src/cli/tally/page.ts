import { createHash } from 'node:crypto'
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { createServer as createHttpsServer } from 'node:https'
import { listen, stop } from '../../link/listen.ts'
import { isOwnHost } from '../../link/own-host.ts'
import { escapeHtml } from '../../text/html.ts'

/** One file that may be had; nothing else is. */
export interface PageFile {
  readonly type:
    | 'text/html'
    | 'text/css'
    | 'text/javascript'
    | 'text/yaml'
    | 'text/calendar'
    | 'application/json'
    | 'image/svg+xml'
  /** Undefined: there is none yet. */
  readonly body: string | ((asked: Asked) => string | undefined)
}

export interface Asked {
  /** Host name under which the page was asked for. */
  readonly hostname: string
  readonly lang: Lang
}

const LANGS = ['en', 'de'] as const
type Lang = (typeof LANGS)[number]

/**
 * The language of the card that the browser likes best; English where it names none of them.
 * @see RFC 9110 section 12.5.4 for the field
 */
export function langOf(acceptLanguage = ''): Lang {
  const wishes = acceptLanguage
    .toLowerCase()
    .split(',')
    .map(wish => {
      const [range = '', ...parameters] = wish.split(';').map(part => part.trim())
      const weight = parameters.find(part => part.startsWith('q='))?.slice(2)
      return {
        lang: LANGS.find(lang => lang === range.split('-')[0]),
        weight: weight === undefined ? 1 : Number(weight),
      }
    })
  const [best] = wishes.filter(({ lang, weight }) => lang && weight > 0).sort((a, b) => b.weight - a.weight)
  return best?.lang ?? 'en'
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
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
  "require-trusted-types-for 'script'",
  'trusted-types lit-html',
].join('; ')

/**
 * Serves a fixed list of files, with the strictest policy the card works under.
 * @throws Error of the operating system, with `code` and `port`, when the port cannot be had
 */
export async function startPage(options: PageOptions): Promise<Page> {
  const { files, answers, host = '127.0.0.1', names = [], tls } = options
  const tagOf = (body: string): string => `"${createHash('sha256').update(body).digest('base64url')}"`
  const tags = new Map([...files].map(([path, { body }]) => [path, typeof body === 'string' ? tagOf(body) : undefined]))
  const answer = (request: IncomingMessage, response: ServerResponse) => {
    const give = ({ status, type, body }: Answer) =>
      response
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
    const path = (request.url ?? '').split('?')[0] ?? ''
    const made = answers?.get(path)
    if (made) return give(made(request.socket.remoteAddress ?? ''))
    const file = files.get(path)
    if (!file) return say(404, 'no such file')
    const hostname = (request.headers.host ?? '').replace(/:\d+$/, '')
    const lang = langOf(request.headers['accept-language'])
    const body = typeof file.body === 'string' ? file.body : file.body({ hostname, lang })
    if (body === undefined) return say(503, 'not yet: try again in a moment')
    const tag = tags.get(path) ?? tagOf(body)
    const unchanged = request.headers['if-none-match'] === tag
    response.writeHead(unchanged ? 304 : 200, {
      'content-type': `${file.type}; charset=utf-8`,
      'content-security-policy': POLICY,
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
      'cross-origin-resource-policy': 'same-origin',
      'cache-control': 'no-cache',
      vary: 'accept-language',
      etag: tag,
    })
    response.end(unchanged || request.method === 'HEAD' ? undefined : body)
  }
  const server = tls ? createHttpsServer(tls, answer) : createServer(answer)
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

export interface WallOptions {
  readonly title: string
  readonly broker: string
  /** URL of the register, for a wall that counts for itself. */
  readonly register?: string
  /** Topic prefix of a keeper's tally, for a wall without a register. */
  readonly tally?: string
  /** People may say at this wall what they saw. */
  readonly maySay?: boolean
  /** Language of the card; default English. */
  readonly lang?: Lang
}

/** The page that shows the card and nothing else. */
export function wallPage({
  title,
  broker,
  register,
  tally,
  maySay,
  lang = 'en',
}: WallOptions): PageFile & { readonly body: string } {
  const attributes = [
    register === undefined ? '' : ` register="${escapeHtml(register)}"`,
    ` broker="${escapeHtml(broker)}"`,
    tally === undefined ? '' : ` tally="${escapeHtml(tally)}"`,
    maySay ? ' may-say' : '',
  ].join('')
  const body = `<!doctype html>
<html lang="${lang}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<link rel="icon" href="icon.svg">
<link rel="stylesheet" href="page.css">
<script src="sash-tally.js" defer></script>
</head>
<body>
<sash-tally${attributes}>
<p lang="en">The wall of ${escapeHtml(title)} is being drawn. It needs JavaScript.</p>
</sash-tally>
</body>
</html>
`
  return { type: 'text/html', body }
}

export const PAGE_STYLE: PageFile = {
  type: 'text/css',
  body: 'html, body { margin: 0; height: 100%; }\nbody { font-family: sans-serif; }\nsash-tally { display: block; min-height: 100%; }\n',
}

/** A sash with its lower half raised. */
export const PAGE_ICON: PageFile = {
  type: 'image/svg+xml',
  body: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><g fill="none" stroke="#2b3340" stroke-width="2"><path fill="#f7f4ea" d="M7 3h18v26H7z"/><path d="M7 16h18M16 3v13M4 29h24"/></g></svg>
`,
}
