// The contact program: its size at -Os, and its port for the desk against a bare client of a common MQTT library in C
// (Debian's mosquitto-clients), on one broker, in turns.
import { execFileSync, spawn, spawnSync } from 'node:child_process'
import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { firmwareHeader } from '../../dist/emit/firmware/firmware.js'
import { privateHeader } from '../../dist/emit/firmware/private-header.js'
import { parseRegister } from '../../dist/register/parse.js'

const WORDS = 2_000
const STARTS = 40
const ROUNDS = 3

const freePort = () =>
  new Promise(done => {
    const server = createServer()
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address()
      server.close(() => done(port))
    })
  })
const median = values => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]

/** Milliseconds until a process has ended, or has said what is waited for. */
function time(program, args, { input, says, cwd } = {}) {
  return new Promise((done, failed) => {
    const from = performance.now()
    const child = spawn(program, args.map(String), {
      cwd,
      stdio: [input === undefined ? 'ignore' : 'pipe', 'ignore', 'pipe'],
    })
    let said = ''
    const over = () => {
      done(performance.now() - from)
      child.kill('SIGKILL')
    }
    child.once('error', failed)
    child.stderr.on('data', text => {
      said += text
      if (says !== undefined && said.includes(says)) over()
    })
    if (says === undefined) child.once('exit', over)
    if (input !== undefined) child.stdin.end(input)
  })
}

export async function run() {
  if (spawnSync('mosquitto_pub', ['--help']).error) {
    console.log('mosquitto_pub is not installed: apt-get install mosquitto-clients')
    return
  }
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-bench-'))
  const port = await freePort()
  writeFileSync(
    join(folder, 'broker.conf'),
    `${process.getuid() === 0 ? 'user root\n' : ''}listener ${port} 127.0.0.1\nallow_anonymous true\nset_tcp_nodelay true\n`,
  )
  const broker = spawn('mosquitto', ['-c', join(folder, 'broker.conf')], {
    stdio: 'ignore',
    env: { ...process.env, PATH: `${process.env.PATH}:/usr/sbin` },
  })
  try {
    await new Promise(done => setTimeout(done, 500))
    build(folder, port)
    await words(folder, port)
    await starts(folder, port)
  } finally {
    broker.kill('SIGKILL')
    rmSync(folder, { recursive: true, force: true })
  }
}

function build(folder, port) {
  const { register, problems } = parseRegister(`house: Bench
timezone: UTC
broker: { mqtt: 'mqtt://127.0.0.1:${port}' }
tally: bench/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings: [{ mark: W01, name: A, sender: coin }, { mark: D01, name: B, sender: yard }]
`)
  if (!register) throw new Error(problems[0]?.message)
  cpSync(fileURLToPath(new URL('../../dist/emit/firmware/c', import.meta.url)), folder, { recursive: true })
  for (const { name, text } of register.openings.map(opening => firmwareHeader(opening, register)))
    writeFileSync(join(folder, name), text)
  writeFileSync(join(folder, 'private.h'), privateHeader(register))
  for (const mark of ['w01', 'd01']) {
    const args = ['-std=c99', '-Os', `-DCONTACT_HEADER="${mark}.h"`, 'contact.c']
    execFileSync('cc', [...args, '-c', '-o', `${mark}.o`], { cwd: folder })
    execFileSync('cc', [...args, 'contact_posix.c', '-o', mark], { cwd: folder })
    const [, line] = execFileSync('size', [`${mark}.o`], { cwd: folder, encoding: 'utf8' }).split('\n')
    const [text, data, bss] = line.trim().split(/\s+/)
    console.log(
      `${mark}: ${text} bytes of text, ${data} of data, ${bss} of bss (aim: under 6,144 of text; stack: see the tests)`,
    )
  }
}

/** Words a minute: the desk waits for each acknowledgement, the bare client keeps twenty on their way. */
async function words(folder, port) {
  const lines = Array.from({ length: WORDS }, (_, index) => (index % 2 ? 'closed' : 'opened'))
  const pub = ['-h', '127.0.0.1', '-p', port, '-i', 'barepub', '-q', '1', '-r', '-t', 'bench/bare', '-l']
  const [ours, bare] = [[], []]
  for (let round = 0; round < ROUNDS; round++) {
    // It falls silent at the end of its input: the broker’s own word for the last line is what is waited for.
    ours.push(await acknowledged(folder, port, `${lines.join('\n')}\n`))
    bare.push(await time('mosquitto_pub', pub, { input: `${lines.join('\n')}\n` }))
  }
  const [a, b] = [ours, bare].map(times => Math.min(...times))
  const minute = milliseconds => Math.round((WORDS / milliseconds) * 60_000).toLocaleString('en')
  console.log(`${minute(a)} words a minute on the desk, ${minute(b)} by mosquitto_pub -l (${(b / a).toFixed(2)} times)`)
}

/** Milliseconds until a listener has heard every word of the desk. */
async function acknowledged(folder, port, input) {
  const args = ['-h', '127.0.0.1', '-p', port, '-t', 'bench/d01', '-q', '1', '-R', '-C', WORDS]
  const ear = spawn('mosquitto_sub', args.map(String), { stdio: 'ignore' })
  const heard = new Promise((done, failed) => ear.once('exit', done).once('error', failed))
  // It says nothing through a pipe when it is ready.
  await new Promise(done => setTimeout(done, 500))
  const from = performance.now()
  const desk = spawn(join(folder, 'd01'), [], { cwd: folder, stdio: ['pipe', 'ignore', 'ignore'] })
  desk.stdin.end(input)
  await heard
  desk.kill('SIGKILL')
  return performance.now() - from
}

/** From the start of the process to the acknowledged word. */
async function starts(folder, port) {
  const pub = ['-h', '127.0.0.1', '-p', port, '-i', 'bareone', '-k', '5', '-q', '1', '-t', 'bench/one', '-m', 'opened']
  const will = ['--will-topic', 'bench/one', '--will-payload', 'asleep', '--will-qos', '1', '--will-retain']
  const [ours, bare] = [[], []]
  for (let start = 0; start < STARTS; start++) {
    ours.push(await time(join(folder, 'w01'), [], { cwd: folder, says: 'acknowledged' }))
    bare.push(await time('mosquitto_pub', [...pub, ...will]))
  }
  const [a, b] = [median(ours), median(bare)]
  console.log(
    `${a.toFixed(1)} ms from start to acknowledged word, ${b.toFixed(1)} ms by mosquitto_pub (${(a / b).toFixed(2)} times)`,
  )
}
