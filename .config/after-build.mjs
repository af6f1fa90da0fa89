// After the compiler: the custom elements manifest, and the command line made executable.
import { spawnSync } from 'node:child_process'
import { chmodSync, existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('..', import.meta.url))

if (existsSync(`${root}dist/cli/bin.js`)) chmodSync(`${root}dist/cli/bin.js`, 0o755)

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
