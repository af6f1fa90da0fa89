import { execFile, execFileSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { promisify } from 'node:util'

const root = resolve(import.meta.dirname, '../..')

/** An empty project in which the package was installed from its tarball. */
export interface Project {
  /** Of the tarball. */
  readonly bytes: number
  write(name: string, text: string): void
  /** Runs a program there. @throws with what it printed */
  run(program: string, ...args: readonly string[]): Promise<string>
  remove(): void
}

export function packedProject(): Project {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-consumer-'))
  const installed = join(folder, 'node_modules', 'sashtally')
  mkdirSync(installed, { recursive: true })
  const pack = ['pack', '--ignore-scripts', '--json', '--pack-destination', folder]
  const [{ filename, size }] = JSON.parse(execFileSync('npm', pack, { cwd: root, encoding: 'utf8' }))
  execFileSync('tar', ['xzf', join(folder, filename), '--strip-components=1', '-C', installed])
  // What it depends on, as npm would have put it beside.
  symlinkSync(join(root, 'node_modules'), join(installed, 'node_modules'))
  const write = (name: string, text: string): void => writeFileSync(join(folder, name), text)
  write('package.json', '{ "type": "module", "private": true }')
  return {
    bytes: size,
    write,
    async run(program, ...args) {
      try {
        const { stdout } = await promisify(execFile)(program, args, { cwd: folder, encoding: 'utf8' })
        return stdout
      } catch (error) {
        const { stdout, stderr } = error as { stdout: string; stderr: string }
        throw new Error(`${program} ${args.join(' ')} failed:\n${stdout}${stderr}`)
      }
    },
    remove: () => rmSync(folder, { recursive: true }),
  }
}
