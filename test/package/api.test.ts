import { readFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { exported, withApiPage } from '../../.config/api-page.mjs'
import { startBroker } from '../../src/link/broker.ts'
import { type Project, packedProject } from './packed.ts'

const root = resolve(import.meta.dirname, '../..')
const tsc = join(root, 'node_modules/typescript/bin/tsc')
const all = exported()

/** Names that checks outside the project import. */
const PINNED = [
  'parseRegister',
  'policyOf',
  'startLedger',
  'applyAll',
  'read',
  'forecastOf',
  'simulateOpening',
  'eventBudget',
  'fitLifetimes',
]

test('every export says what it is', () => {
  expect(all.filter(({ text }) => text === '').map(({ name }) => name)).toEqual([])
  expect(all.map(({ name }) => name)).toEqual(expect.arrayContaining(PINNED))
})

test('README.md lists what the package exports: npm run api', () => {
  const readme = readFileSync(join(root, 'README.md'), 'utf8')
  expect(readme).toBe(withApiPage(readme))
})

describe('installed from its tarball', () => {
  let project: Project
  beforeAll(() => {
    project = packedProject()
  })
  afterAll(() => project.remove())

  const examples = all.flatMap(({ name, examples }) => examples.map(code => ({ name, code })))

  test('every example of a docstring compiles, runs and prints what it says', async () => {
    expect(examples.length).toBeGreaterThan(6)
    const broker = await startBroker({ mqttPort: 0, websocketPort: 0 })
    for (const { name, code } of examples)
      project.write(`${name}.ts`, code.replace('mqtt://127.0.0.1:1883', broker.mqttUrl))
    const options = ['--strict', '--target', 'es2022', '--lib', 'es2023,dom']
    await project.run(
      process.execPath,
      tsc,
      ...options,
      '--module',
      'nodenext',
      ...examples.map(({ name }) => `${name}.ts`),
    )
    for (const { name, code } of examples) {
      const said = [...code.matchAll(/^console\.log\(.*\) \/\/ (.*)$/gm)].map(([, value]) => value)
      expect(said.length, name).toBeGreaterThan(0)
      const printed = await project.run(process.execPath, `${name}.js`)
      expect(printed.trim().split('\n'), name).toEqual(said)
    }
    await broker.close()
  })

  test.each(['nodenext', 'bundler'])('every entry has its types for a consumer with moduleResolution %s', async how => {
    project.write(
      'consumer.ts',
      `import { parseRegister, type Register } from 'sashtally'
import { type KeepOptions, keepHouse, openTally } from 'sashtally/keeper'
import { SashTally } from 'sashtally/card'
import 'sashtally/card/define'
import 'sashtally/sash-tally.js'
import schema from 'sashtally/register.schema.json' with { type: 'json' }
import manifest from 'sashtally/custom-elements.json' with { type: 'json' }
const register: Register | undefined = parseRegister('').register
const element: SashTally = document.createElement('sash-tally')
element.tally = 'ropewalk/tally'
// @ts-expect-error A tally is a text.
element.tally = 5
const options: Pick<KeepOptions, 'homie'> = { homie: true }
// @ts-expect-error A keeper needs more than that.
void keepHouse(options)
export const marks = (folder: string): string[] =>
  [...openTally(folder, register!).entries({ marks: ['W07'] })].map(({ mark }) => mark)
export const seen = [register, schema.$schema, manifest.modules.length]
`,
    )
    const module = how === 'bundler' ? 'preserve' : how
    const options = ['--strict', '--noEmit', '--target', 'es2022', '--lib', 'es2023,dom,dom.iterable']
    const files = ['--module', module, '--moduleResolution', how, '--resolveJsonModule', 'consumer.ts']
    expect(await project.run(process.execPath, tsc, ...options, ...files)).toBe('')
  })

  test('the core runs where it is installed, and its program too', async () => {
    const code = "const { read } = await import('sashtally'); console.log(typeof read)"
    expect(await project.run(process.execPath, '--input-type=module', '-e', code)).toBe('function\n')
    expect(await project.run(process.execPath, 'node_modules/sashtally/dist/cli/bin.js', '--version')).toMatch(
      /^\d+\.\d+\.\d+/,
    )
  })

  test('the tarball stays under 700 kB and holds no sources and no types that nothing leads to', async () => {
    const files = (await project.run('find', 'node_modules/sashtally/', '-type', 'f')).trim().split('\n')
    expect(files.filter(name => /\/src\/(?!manual\/)|\.map$|cli\/.*\.d\.ts$/.test(name))).toEqual([])
    expect(project.bytes).toBeLessThan(700_000)
  })
})
