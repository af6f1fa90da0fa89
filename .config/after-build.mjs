// After the compiler: the C sources, the register's JSON Schema, the manual page, the custom elements manifest, the command line made
// executable, and nothing in what is published that helps nobody there.
import { spawnSync } from 'node:child_process'
import { chmodSync, cpSync, existsSync, readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { join } from './join.mjs'
import { slim } from './slim.mjs'

const root = fileURLToPath(new URL('..', import.meta.url))

cpSync(`${root}src/emit/firmware/c`, `${root}dist/emit/firmware/c`, { recursive: true })
const { registerSchemaText } = await import(`${root}dist/emit/standards/register-schema.js`)
writeFileSync(`${root}dist/register.schema.json`, registerSchemaText())

const { manPageOf } = await import(`${root}dist/cli/help/man-page.js`)
const { GROUPS } = await import(`${root}dist/cli/commands.js`)
const { version } = await import(`${root}dist/cli/version.js`)
writeFileSync(`${root}dist/sashtally.1`, manPageOf(GROUPS, version()))

const analyzed = spawnSync(
  process.execPath,
  [
    `${root}node_modules/@custom-elements-manifest/analyzer/cem.js`,
    'analyze',
    '--litelement',
    '--quiet',
    '--globs',
    'src/card/sash-tally.ts',
    'src/card/define.ts',
    '--outdir',
    'dist',
  ],
  { cwd: root, stdio: 'inherit' },
)
process.exitCode = analyzed.status ?? 1

// The analyzer lists what the code dispatches a second time, without its name, and what only the class itself may call.
const manifest = `${root}dist/custom-elements.json`
if (analyzed.status === 0) {
  const json = JSON.parse(readFileSync(manifest, 'utf8'))
  for (const declaration of json.modules.flatMap(module => module.declarations)) {
    declaration.events = declaration.events?.filter(event => event.name)
    declaration.members = declaration.members?.filter(
      ({ name, privacy }) => privacy === undefined && !name.startsWith('#') && name !== 'declare',
    )
  }
  writeFileSync(manifest, `${JSON.stringify(json, null, 2)}\n`)
}

slim(`${root}dist`, JSON.parse(readFileSync(`${root}package.json`, 'utf8')).exports)
await join(`${root}dist/card`, ['sash-tally', 'define'])
await join(`${root}dist/cli`, ['bin', 'houses/follow', 'houses/way-back'])
await join(`${root}dist/keeper`, ['index', 'forecast/forecast-worker'])
chmodSync(`${root}dist/cli/bin.js`, 0o755)
