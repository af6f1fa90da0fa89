import { request } from 'node:http'
import { connect } from 'node:net'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { iconPng } from '../../src/cli/tally/icon.ts'
import { type Page, type PageFile, startPage } from '../../src/cli/tally/page.ts'
import { wallFiles, wallPage } from '../../src/cli/tally/wall-page.ts'
import { langOf, takesGzip } from '../../src/cli/tally/wishes.ts'
import { isOwnHost } from '../../src/link/own-host.ts'

const LONG = 'const sash = 1\n'.repeat(200)

describe('the page server', () => {
  let page: Page
  beforeAll(async () => {
    const files = new Map<string, PageFile>([
      ['/asked', { type: 'text/html', body: ({ hostname, lang }) => `${hostname} ${lang}` }],
      ['/', wallPage({ title: 'Rope & <walk>', register: 'ropewalk.yaml', broker: 'ws://127.0.0.1:1/"><script>' })],
      ...wallFiles('Rope & <walk>'),
      ['/long.js', { type: 'text/javascript', body: LONG }],
      ['/later', { type: 'text/calendar', body: () => undefined }],
    ])
    page = await startPage({ files, port: 0, names: ['wall.lan'] })
  })
  afterAll(() => page.close())

  const ask = (path: string, options: { method?: string; headers?: Record<string, string> } = {}) =>
    new Promise<{ status: number | undefined; headers: Record<string, unknown>; text: string }>((done, failed) => {
      const asked = request({ host: '127.0.0.1', port: page.port, path, ...options }, response => {
        let text = ''
        response.on('data', part => {
          text += part
        })
        response.on('end', () => done({ status: response.statusCode, headers: response.headers, text }))
      })
      asked.on('error', failed).end()
    })

  test('serves its files under a policy that lets no foreign script, style or host in', async () => {
    const { status, headers, text } = await ask('/?from=home')
    expect(status).toBe(200)
    expect(headers['content-type']).toBe('text/html; charset=utf-8')
    expect(headers['x-content-type-options']).toBe('nosniff')
    const policy = String(headers['content-security-policy']).split('; ')
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'self'")
    expect(policy).toContain("style-src 'self'")
    expect(policy).toContain("connect-src 'self' ws: wss:")
    expect(policy).toContain("require-trusted-types-for 'script'")
    expect(String(headers['content-security-policy'])).not.toMatch(/unsafe|\*/)
    expect(text).toContain('<title>Rope &amp; &lt;walk&gt;</title>')
    expect(text.match(/<script/g)).toHaveLength(1)
    expect(text).toContain('broker="ws://127.0.0.1:1/&quot;&gt;&lt;script&gt;"')
  })

  test('asks to come again for what is not there yet', async () => {
    expect(await ask('/later')).toMatchObject({ status: 503, text: 'not yet: try again in a moment\n' })
  })

  test.each([
    '/package.json',
    '/..%2fpackage.json',
    '/../package.json',
    '//page.css',
    '/page.css/',
    '/%2e%2e/',
    '/__proto__',
    '/constructor',
  ])('knows nothing of %s', async path => {
    const { status, text } = await ask(path)
    expect([status, text]).toEqual([404, 'no such file\n'])
  })

  test('a file that did not change is not sent again', async () => {
    const { headers } = await ask('/page.css')
    expect((await ask('/page.css', { headers: { 'if-none-match': String(headers.etag) } })).status).toBe(304)
    expect((await ask('/page.css', { headers: { 'if-none-match': '"other"' } })).status).toBe(200)
    expect(await ask('/page.css', { method: 'HEAD' })).toMatchObject({ status: 200, text: '' })
  })

  test('a long file is sent compressed to whoever takes that, and each form has a tag of its own', async () => {
    const plain = await fetch(`${page.url}long.js`, { headers: { 'accept-encoding': 'identity' } })
    const zipped = await fetch(`${page.url}long.js`, { headers: { 'accept-encoding': 'br, gzip' } })
    expect([plain.headers.get('content-encoding'), zipped.headers.get('content-encoding')]).toEqual([null, 'gzip'])
    expect([await plain.text(), await zipped.text()]).toEqual([LONG, LONG])
    const [one, other] = [plain.headers.get('etag')!, zipped.headers.get('etag')!]
    expect(one).not.toBe(other)
    const again = (etag: string) =>
      ask('/long.js', { headers: { 'accept-encoding': 'gzip', 'if-none-match': etag } }).then(({ status }) => status)
    expect([await again(one), await again(other)]).toEqual([200, 304])
  })

  // RFC 9110, section 12.5.3: codings with weights; "*" is any that is not named.
  test.each([
    ['gzip', true],
    ['br;q=1.0, GZIP;q=0.5', true],
    ['*', true],
    ['gzip;q=0, *', false],
    ['br', false],
    ['', false],
    [undefined, false],
  ])('whoever accepts %s gets gzip: %s', (field, takes) => {
    expect(takesGzip(field)).toBe(takes)
  })

  test('a tablet can keep the wall on its home screen', async () => {
    const manifest = await fetch(`${page.url}manifest.webmanifest`)
    expect(manifest.headers.get('content-type')).toMatch(/^application\/manifest\+json/)
    const { name, start_url, display, icons } = await manifest.json()
    expect([name, start_url, display]).toEqual(['Rope & <walk>', './', 'standalone'])
    expect(icons.map(({ sizes }: { sizes: string }) => sizes)).toEqual(['any', '192x192', '512x512'])
    for (const { src, type } of icons) {
      const icon = await fetch(new URL(src, page.url))
      expect([icon.status, icon.headers.get('content-type')?.split(';')[0]]).toEqual([200, type])
    }
    // A picture is no text, and comes as its own bytes.
    const png = await fetch(new URL('icon-192.png', page.url))
    expect(png.headers.get('content-type')).toBe('image/png')
    expect(new Uint8Array(await png.arrayBuffer())).toEqual(new Uint8Array(iconPng(6)))
    expect((await ask('/')).text).toContain('<link rel="apple-touch-icon" href="icon-192.png">')
    expect((await ask('/')).text).toContain('<link rel="manifest" href="manifest.webmanifest">')
  })

  test('on the home screen the wall goes on signing what is said there', async () => {
    const wall = wallPage({ title: 'Rope', broker: 'ws://broker.lan:9001', maySay: true, by: 'Hall & stairs' }).body
    expect(wall).toContain('<link rel="manifest" href="manifest.webmanifest?by=Hall%20%26%20stairs">')
    const body = new Map(wallFiles('Rope')).get('/manifest.webmanifest')?.body
    if (typeof body !== 'function') throw new Error('the manifest knows nobody')
    const asked = { hostname: 'broker.lan', lang: 'en', by: 'Hall & stairs' } as const
    const { start_url } = JSON.parse((await body(asked)) ?? '')
    expect(start_url).toBe('./?by=Hall%20%26%20stairs')
    expect(new URLSearchParams(start_url.split('?')[1]).get('by')).toBe('Hall & stairs')
  })

  // RFC 9110, section 12.5.4: language ranges with weights from 0 to 1, 1 where none is given.
  test.each([
    ['de', 'de'],
    ['de-CH, de;q=0.9, en;q=0.8', 'de'],
    ['fr, en;q=0.5, de;q=0.7', 'de'],
    ['en-GB,en;q=0.9,de;q=0.8', 'en'],
    ['de;q=0, en;q=0.1', 'en'],
    ['fr', 'en'],
    ['*', 'en'],
    [';;q=x,,', 'en'],
    [undefined, 'en'],
  ])('a browser that wants %s gets %s', (wanted, lang) => {
    expect(langOf(wanted)).toBe(lang)
  })

  test('a page is made for the name and the language it was asked in, and says that it hangs on that', async () => {
    const { headers, text } = await ask('/asked', { headers: { host: 'wall.lan:80', 'accept-language': 'de-AT, en' } })
    expect([text, headers.vary]).toEqual(['wall.lan de', 'accept-language, accept-encoding'])
    expect(wallPage({ title: 'Rope', broker: 'ws://127.0.0.1:1', lang: 'de' }).body).toContain('<html lang="de">')
  })

  test('only reading is possible', async () => {
    for (const method of ['POST', 'PUT', 'DELETE', 'OPTIONS']) expect((await ask('/', { method })).status).toBe(405)
  })

  test('a foreign host name is refused, so that no name can be bound to this machine (DNS rebinding)', async () => {
    for (const host of ['evil.example', 'evil.example:80', 'localhost.evil.example', '127.0.0.1.evil.example']) {
      expect((await ask('/', { headers: { host } })).status).toBe(421)
    }
    for (const host of ['localhost', `localhost:${page.port}`, `127.0.0.1:${page.port}`, '[::1]:80', 'WALL.lan']) {
      expect((await ask('/', { headers: { host } })).status).toBe(200)
    }
  })

  test('what is no HTTP at all does not stop it', async () => {
    await new Promise<void>(done => {
      const socket = connect(page.port, '127.0.0.1', () => socket.end('\0\0\0\0 nonsense\r\n\r\n'))
      socket
        .on('close', () => done())
        .on('error', () => done())
        .resume()
    })
    expect((await ask('/')).status).toBe(200)
  })
})

test.each([undefined, '', 'user@127.0.0.1', '127.0.0.1/', '[::1', '[zz]', '127.0.0.1:x', '127.1:80:80'])(
  'Host %j is none of ours',
  host => expect(isOwnHost(host)).toBe(false),
)
