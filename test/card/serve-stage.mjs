// The scripted evening as a page of its own, served under the strict policy that a real page would have.
import { readFileSync } from 'node:fs'
import { createServer } from 'node:http'
import { fileURLToPath } from 'node:url'
import { build } from 'esbuild'

const here = path => fileURLToPath(new URL(path, import.meta.url))
const PAGE = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1"><title>Wall</title><link rel="stylesheet" href="/page.css"><body><script type="module" src="/stage.js"></script></body></html>`

/** @returns {Promise<{ origin: string, close(): void }>} */
export async function serveStage() {
  const bundle = await build({
    entryPoints: [here('stage.ts')],
    bundle: true,
    write: false,
    format: 'esm',
    target: 'es2022',
    conditions: ['browser', 'production', 'default'],
    tsconfigRaw: { compilerOptions: { experimentalDecorators: true, useDefineForClassFields: false } },
  })
  const files = {
    '/': ['text/html', PAGE],
    '/page.css': [
      'text/css',
      'html,body{margin:0;block-size:100%}sash-tally{--sash-font:"DejaVu Sans Condensed","DejaVu Sans",sans-serif}',
    ],
    '/stage.js': ['text/javascript', bundle.outputFiles[0].text],
    '/ropewalk.yaml': ['application/yaml', readFileSync(here('../../examples/ropewalk.yaml'), 'utf8')],
  }
  const server = createServer((request, answer) => {
    const [type, body] = files[request.url.split('?')[0]] ?? []
    if (!type) return answer.writeHead(404).end()
    answer.writeHead(200, {
      'content-type': `${type}; charset=utf-8`,
      'content-security-policy':
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self' ws: wss:; require-trusted-types-for 'script'; trusted-types lit-html",
    })
    answer.end(body)
  })
  await new Promise(done => server.listen(0, '127.0.0.1', done))
  return { origin: `http://127.0.0.1:${server.address().port}`, close: () => server.close() }
}
