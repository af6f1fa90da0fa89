import { execFileSync, spawnSync } from 'node:child_process'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { have } from '../../support/have.ts'
import { needs } from '../../support/missing.ts'
import { ropewalk } from '../houses.ts'
import { benchHouse, Workbench } from './built.ts'

const haveCompiler = needs('gcc', 'size')
const compilers = ['gcc', ...(have('clang') ? ['clang'] : [])]

// The register's own example, and the house of these tests with every figure in its payload; passwords as long as
// `emit access` makes them.
const PASSWORD = 'A'.repeat(20)

describe(haveCompiler.title('the size of a contact'), { skip: haveCompiler.skip }, () => {
  const benches: Workbench[] = []
  const benchOf = (register = ropewalk()): Workbench => {
    const bench = new Workbench(register, new Map(register.openings.map(({ mark }) => [mark, PASSWORD])))
    benches.push(bench)
    return bench
  }
  afterAll(() => {
    for (const bench of benches) bench.clear()
  })

  test.each([
    ['openings', 'W01', ropewalk],
    ['JSON', 'W10', ropewalk],
    ['both edges', 'D01', ropewalk],
    ['JSON with every figure', 'W10', benchHouse],
    ['QoS 2', 'W10', () => benchHouse(1883, { json: ', qos: 2' })],
  ])('%s: under 6 kB of text, and 600 bytes of data, bss and stack as it was touched', (_, mark, house) => {
    const bench = benchOf(house())
    const { text, data, bss } = bench.sizes(mark)
    // Resolved at the start, so that the loader's own work is not on the stack that is measured.
    const run = spawnSync(bench.build(mark, 'stack_port', ['-Os', '-Wl,-z,now']), { encoding: 'utf8' })
    const { stack, end } = JSON.parse(run.stdout) as { stack: number; end: number }
    console.log(mark, { text, data, bss, stack })
    expect(end).toBe(0)
    expect(text).toBeGreaterThan(1000)
    expect(text).toBeLessThan(6 * 1024)
    expect(stack).toBeGreaterThan(100)
    expect(data + bss + stack).toBeLessThan(600)
  })

  test('nothing is taken from a heap, and nothing of the standard library but memory functions', () => {
    const bench = benchOf()
    for (const mark of ['W01', 'W10', 'D01']) {
      bench.sizes(mark)
      const names = execFileSync('nm', ['-u', 'contact.o'], { cwd: bench.folder, encoding: 'utf8' })
        .split('\n')
        .flatMap(line => line.trim().split(' ')[1] ?? [])
      const foreign = names.filter(name => !name.startsWith('contact_port_'))
      expect(foreign.filter(name => !/^mem(cpy|cmp|set)$/.test(name))).toEqual([])
    }
  })
})

describe(haveCompiler.title(`what ${compilers.join(' and ')} say`), { skip: haveCompiler.skip }, () => {
  let bench: Workbench
  const skeleton = (compiler = 'gcc') => bench.compile(compiler, 'W10', ['-fsyntax-only', 'contact_skeleton.c'])
  beforeAll(() => {
    bench = new Workbench(benchHouse())
  })
  afterAll(() => bench.clear())

  test.each(compilers)('%s: the program and its ports, not a word', compiler => {
    for (const optimised of ['-O0', '-Os', '-O2'])
      for (const mark of ['W01', 'W10', 'D01'])
        expect(bench.compile(compiler, mark, [optimised, 'contact.c', 'contact_posix.c', '-o', 'x'])).toEqual({
          status: 0,
          says: '',
        })
  })

  test('a port that joins Wi-Fi stops where the private header is still empty, and says what is missing', () => {
    const empty = bench.read('private.h')
    const { status, says } = skeleton()
    expect(status).not.toBe(0)
    expect(says).toContain('PRIVATE_WIFI_PASSWORD is still empty')
    expect(says).toContain('this contact has no password yet')
    expect(says).not.toContain('No network')
    try {
      const joined = empty.replace('/* #define PRIVATE_WIFI_PASSWORD "" */', '#define PRIVATE_WIFI_PASSWORD "sesame"')
      bench.write('private.h', joined)
      expect(skeleton().says).toContain('this contact has no password yet')
      bench.write(
        'private.h',
        joined.replace('/* #define PRIVATE_BROKER_IS_OPEN 1 */', '#define PRIVATE_BROKER_IS_OPEN 1'),
      )
      for (const compiler of compilers) expect(skeleton(compiler)).toEqual({ status: 0, says: '' })
    } finally {
      bench.write('private.h', empty)
    }
  })

  test('a register that names no network or no broker leaves both to the private header, and a port says so', () => {
    const bare = new Workbench({
      ...benchHouse(),
      broker: {},
      openings: benchHouse().openings.map(({ wifi: _, ...opening }) => opening),
    })
    try {
      const { says } = bare.compile('gcc', 'W10', ['-fsyntax-only', 'contact_skeleton.c'])
      expect(says).toContain('No network')
      expect(says).toContain('No broker')
      expect(bare.compile('gcc', 'W10', ['-fsyntax-only', 'contact_posix.c']).says).toContain(
        'The register names no broker',
      )
    } finally {
      bare.clear()
    }
  })

  test('the port for the desk refuses TLS rather than speak plainly', () => {
    const tls = new Workbench({ ...benchHouse(), broker: { mqtt: 'mqtts://broker.lan' } })
    try {
      expect(tls.compile('gcc', 'W10', ['-fsyntax-only', 'contact_posix.c']).says).toContain('speaks no TLS')
    } finally {
      tls.clear()
    }
  })

  test('without a header the compiler says how one is named', () => {
    const done = spawnSync('gcc', ['-std=c99', '-fsyntax-only', 'contact.c'], { cwd: bench.folder, encoding: 'utf8' })
    expect(done.stderr).toContain('Name the header of this contact')
  })
})
