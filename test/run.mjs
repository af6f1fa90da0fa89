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

/** A failure that is no single test's. */
const AS_A_WHOLE = { test: 'as a whole' }
const failures = []
const onlyOnce = []
/** So few files may fail and be run once more: more is no accident of a busy machine. */
const FILES_TO_RUN_AGAIN = 3

/**
 * Runs a test runner that writes its counts and failures to a file; without the file the step counts as one failure.
 * Where few files fail they are run once more, alone. What passes then counts as passed and is named in the last
 * lines: tests talk to real brokers, and a machine with other work loses a race now and then. Each is to be mended.
 * A property with a counterexample has failed: another run would only try other values.
 */
function counted(name, command, args, file, alone) {
  const run = (title, all) => {
    rmSync(file, { force: true })
    const fine = step(title, command, all, { SASHTALLY_COUNTS: file })
    const counts = existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : undefined
    return { fine, ...(counts ?? { passed: 0, failed: 1, skipped: 0, failures: [AS_A_WHOLE], passes: [] }) }
  }
  const first = run(name, args)
  passed += first.passed
  skipped += first.skipped
  if (first.fine && first.failed === 0) return
  if (first.failures.length === 0) first.failures.push(AS_A_WHOLE)
  const named = first.failures.map(({ file = '', test }) => `${name}: ${file} ${test}`)
  const files = [...new Set(first.failures.map(({ file }) => file))]
  const few =
    first.failures.every(({ isProven }) => !isProven) &&
    files.length > 0 &&
    files.length <= FILES_TO_RUN_AGAIN &&
    files.every(file => file && existsSync(join(root, file)))
  const second = few ? run(`${name}: once more, ${files.join(', ')}`, alone(files)) : undefined
  // One that is skipped now has not passed.
  const isMadeGood = ({ file, test }) => test === AS_A_WHOLE.test || second.passes.includes(`${file} ${test}`)
  if (second?.fine && second.failed === 0 && first.failures.every(isMadeGood)) {
    passed += first.failed
    onlyOnce.push(...named)
  } else {
    failed += Math.max(1, first.failed)
    failures.push(...named)
  }
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

const COUNTS = '--reporter=./.config/counts-reporter.mjs'
const unit = join(root, '.tmp', 'vitest.json')
const inNode = (files = []) => [
  ...['run', '--config', '.config/vitest.config.ts', '--reporter=default', COUNTS],
  ...files,
]
counted('tests in Node', bin('vitest'), inNode(), unit, inNode)

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
  const under = files => [
    ...[join(root, 'node_modules', 'vitest', 'vitest.mjs'), 'run', '--config', '.config/vitest.config.ts'],
    ...['--reporter=dot', COUNTS],
    ...files,
  ]
  counted(
    `tests of the core and the keeper under Node ${major}`,
    join(folder, 'node_modules', program, 'bin', 'node'),
    under(ON_EVERY_NODE.map(name => `test/${name}`)),
    json,
    under,
  )
}

const browser = join(root, '.tmp', 'browser.json')
if (found('chromium') || process.env.CHROME_PATH) {
  const inChromium = (files = []) => [
    ...['--config', '.config/web-test-runner.config.mjs'],
    ...files.flatMap(file => ['--files', file]),
  ]
  counted('tests in Chromium', bin('wtr'), inChromium(), browser, inChromium)
} else {
  skipped++
  console.log('tests in Chromium: skipped, chromium is not installed')
}

if (skipped > 0)
  console.log(`\n${skipped} skipped${noSkips ? ', and here that is a failure' : ''}: the reasons stand above`)
if (skipped > 0 && noSkips) failed += skipped
for (const name of onlyOnce) console.log(`Failed once and passed when its file was run again, alone: ${name}`)
for (const name of failures) console.log(`Failed: ${name}`)
console.log(`\n${passed} passed, ${failed} failed${skipped > 0 && !noSkips ? `, ${skipped} skipped` : ''}`)
process.exitCode = failed > 0 ? 1 : 0
