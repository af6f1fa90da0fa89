import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'
import { until } from '../support/until.ts'
import { openWall } from '../support/wall.ts'

const root = fileURLToPath(new URL('../..', import.meta.url))

/** Runs a program and answers what it printed. */
function ran(command: string, args: string[], cwd: string): string {
  const done = spawnSync(command, args, { cwd, encoding: 'utf8' })
  if (done.status !== 0) throw new Error(`${command} ${args.join(' ')}: ${done.stderr}`)
  return done.stdout
}

describe.skipIf(haveChromium.skip)(haveChromium.title('the demo from an installed package'), () => {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-package-'))
  let chromium: Chromium
  let demo: ChildProcess | undefined
  let written = ''
  beforeAll(async () => {
    if (!existsSync(join(root, 'dist/cli/bin.js'))) throw new Error('dist/cli/bin.js is missing: npm run build')
    ran('npm', ['pack', '--ignore-scripts', '--silent', '--pack-destination', folder], root)
    ran('tar', ['-xzf', readdirSync(folder).find(name => name.endsWith('.tgz'))!], folder)
    symlinkSync(join(root, 'node_modules'), join(folder, 'package', 'node_modules'))
    chromium = await startChromium()
  })
  afterAll(async () => {
    demo?.kill('SIGKILL')
    await chromium?.close()
    rmSync(folder, { recursive: true, force: true })
    if (written.includes('sashtally-demo-')) rmSync(written, { recursive: true, force: true })
  })

  test('shows its house on the wall, live, and ends with Ctrl-C', async () => {
    let out = ''
    demo = spawn(process.execPath, [
      join(folder, 'package/dist/cli/bin.js'),
      'demo',
      '--port',
      '0',
      '--speed',
      '4',
      '--seed',
      '7',
    ])
    demo.stdout?.on('data', part => {
      out += part
    })
    demo.stderr?.on('data', part => {
      out += part
    })
    const url = await until(
      'the address of the wall',
      () => /The wall: (\S+)/.exec(out)?.[1] ?? (demo?.exitCode !== null && Promise.reject(new Error(out))),
      30,
    )
    written = dirname(/Written: (.+)/.exec(out)?.[1] ?? '')
    expect(readdirSync(written).sort()).toEqual([
      'bellframe.hub.yaml',
      'contacts.asyncapi.yaml',
      'ropewalk.yaml',
      'tally',
      'teasel.hub.yaml',
    ])
    const wall = await openWall(chromium, url)
    await wall.shows('.link', /^live/)
    await wall.shows('.headline', /[1-9]\d* may be open/, 30)
    await until(
      'an opening that nobody has seen shut',
      async () => (await wall.text('.counts')).includes('not seen shut'),
      40,
    )
    expect(wall.complaints).toEqual([])
    const ended = new Promise(done => demo?.once('exit', done))
    demo.kill('SIGINT')
    expect(await ended).toBe(0)
    expect(out).toMatch(/The demo has ended\. Its files stay in \S+\.\n$/)
  })
})
