// The test command: finds or installs what the tests need, runs every check, and closes with one line of counts.
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs'
import { delimiter, join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('..', import.meta.url))
const noSkips = process.env.SASHTALLY_NO_SKIPS === '1'

/** Programs the tests talk to, and the Debian packages that bring them. */
const NEEDS = [
  { program: 'mosquitto', package: 'mosquitto' },
  { program: 'mosquitto_passwd', package: 'mosquitto' },
  { program: 'nats-server', package: 'nats-server' },
  { program: 'chromium', package: 'chromium' },
  { program: 'ngspice', package: 'ngspice' },
  { program: 'gcc', package: 'gcc' },
  { program: 'groff', package: 'groff-base' },
  { program: 'g++', package: 'g++' },
  { program: 'promtool', package: 'prometheus' },
  { program: 'systemd-analyze', package: 'systemd' },
  { program: 'zsh', package: 'zsh' },
  { program: 'fish', package: 'fish' },
]

const places = [...(process.env.PATH ?? '').split(delimiter), '/usr/sbin', '/usr/local/sbin', '/sbin']
const found = program => places.some(place => place && existsSync(join(place, program)))
const missing = () => NEEDS.filter(({ program }) => !found(program))

function install() {
  const packages = [...new Set(missing().map(need => need.package))]
  if (packages.length === 0) return
  const command = `apt-get install -y --no-install-recommends ${packages.join(' ')}`
  const debian = existsSync('/etc/debian_version') && found('apt-get')
  if (!debian || process.getuid?.() !== 0) {
    console.log(`Not found: ${packages.join(', ')}. Tests that need them are skipped. On Debian: sudo ${command}`)
    return
  }
  console.log(`Installing what the tests talk to: ${packages.join(', ')}`)
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' }
  const options = { stdio: ['ignore', 'ignore', 'inherit'], env }
  spawnSync('apt-get', ['update', '-qq'], options)
  const done = spawnSync('apt-get', command.split(' ').slice(1), options)
  if (done.status !== 0) console.log(`It could not be installed; tests that need it are skipped: ${command}`)
}

let passed = 0
let failed = 0
let skipped = 0

function step(name, command, args, env = {}) {
  const started = Date.now()
  console.log(`\n== ${name}`)
  const done = spawnSync(command, args, {
    cwd: root,
    stdio: ['ignore', 'inherit', 'inherit'],
    env: { ...process.env, ...env },
  })
  const fine = done.status === 0
  console.log(
    `== ${name}: ${fine ? 'fine' : `failed (${done.signal ?? done.status})`}, ${((Date.now() - started) / 1000).toFixed(1)} s`,
  )
  return fine
}
const check = (...args) => (step(...args) ? passed++ : failed++)

/** Runs a test runner that writes its counts to a file; without the file the step counts as one failure. */
function counted(name, command, args, file, read, env) {
  rmSync(file, { force: true })
  const fine = step(name, command, args, env)
  const counts = existsSync(file) ? read(JSON.parse(readFileSync(file, 'utf8'))) : { passed: 0, failed: 1, skipped: 0 }
  passed += counts.passed
  skipped += counts.skipped
  failed += fine ? counts.failed : Math.max(1, counts.failed)
}

const bin = name => join(root, 'node_modules', '.bin', name)
const hash = path => (existsSync(path) ? createHash('sha256').update(readFileSync(path)).digest('hex') : 'none')

install()
mkdirSync(join(root, '.tmp'), { recursive: true })

check('formatter and linter', 'npm', ['run', '-s', 'lint'])
check('types, and the core without browser or Node', 'npm', ['run', '-s', 'types'])
check('build', 'npm', ['run', '-s', 'build'])

const card = join(root, 'dist', 'sash-tally.js')
const before = hash(card)
check('the one-file card builds', 'npm', ['run', '-s', 'build:card'])
if (before === hash(card)) passed++
else {
  failed++
  console.log('dist/sash-tally.js was not what the sources give: commit the one just built')
}
check('publint', bin('publint'), ['--strict'])
check('are the types wrong', bin('attw'), [
  '--pack',
  '.',
  '--profile',
  'esm-only',
  '--exclude-entrypoints',
  'custom-elements.json',
  '--no-emoji',
])

const ofVitest = json => ({
  passed: json.numPassedTests,
  failed: json.numFailedTests,
  skipped: json.numPendingTests + json.numTodoTests,
})
const unit = join(root, '.tmp', 'vitest.json')
counted(
  'tests in Node',
  bin('vitest'),
  ['run', '--config', '.config/vitest.config.ts', '--reporter=default', '--reporter=json', `--outputFile.json=${unit}`],
  unit,
  ofVitest,
)

/** What `engines` admits, beside the Node that runs this: the core and the keeper, without the browser and the brokers. */
const OTHER_NODES = ['20', '22', '24'].filter(major => major !== process.versions.node.split('.')[0])
const ON_EVERY_NODE = ['text', 'register', 'protocol', 'ledger', 'house', 'keeper/store', 'keeper/keeper.test.ts']

for (const major of noSkips ? OTHER_NODES : []) {
  const program = `node-${process.platform}-${process.arch}`
  const folder = join(root, '.tmp', `node-${major}`)
  mkdirSync(folder, { recursive: true })
  const options = ['--prefix', folder, '--no-save', '--no-audit', '--no-fund', '--ignore-scripts']
  check(`Node ${major} from npm`, 'npm', ['install', ...options, `${program}@${major}`])
  const json = join(folder, 'vitest.json')
  counted(
    `tests of the core and the keeper under Node ${major}`,
    join(folder, 'node_modules', program, 'bin', 'node'),
    [
      join(root, 'node_modules', 'vitest', 'vitest.mjs'),
      'run',
      '--config',
      '.config/vitest.config.ts',
      '--reporter=dot',
      '--reporter=json',
      `--outputFile.json=${json}`,
      ...ON_EVERY_NODE.map(name => `test/${name}`),
    ],
    json,
    ofVitest,
  )
}

const browser = join(root, '.tmp', 'browser.json')
if (found('chromium') || process.env.CHROME_PATH) {
  counted('tests in Chromium', bin('wtr'), ['--config', '.config/web-test-runner.config.mjs'], browser, json => json, {
    SASHTALLY_COUNTS: browser,
  })
} else {
  skipped++
  console.log('tests in Chromium: skipped, chromium is not installed')
}

if (skipped > 0)
  console.log(`\n${skipped} skipped${noSkips ? ', and here that is a failure' : ''}: the reasons stand above`)
if (skipped > 0 && noSkips) failed += skipped
console.log(`\n${passed} passed, ${failed} failed${skipped > 0 && !noSkips ? `, ${skipped} skipped` : ''}`)
process.exitCode = failed > 0 ? 1 : 0
