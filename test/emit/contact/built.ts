import { execFileSync, spawnSync } from 'node:child_process'
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { firmwareHeader } from '../../../src/emit/firmware/firmware.ts'
import { fillPrivate, privateHeader } from '../../../src/emit/firmware/private-header.ts'
import type { Register } from '../../../src/register/types.ts'
import { registerOf } from '../houses.ts'

const SOURCES = fileURLToPath(new URL('../../../src/emit/firmware/c/', import.meta.url))
const PORTS = fileURLToPath(new URL('.', import.meta.url))

/** As strict as a compiler can be asked to be about portable C99. */
export const STRICT = [
  '-std=c99',
  '-Wall',
  '-Wextra',
  '-Wpedantic',
  '-Wconversion',
  '-Wshadow',
  '-Wstrict-prototypes',
  '-Werror',
] as const
export const SANITIZED = ['-O1', '-g', '-fsanitize=address,undefined', '-fno-sanitize-recover=all'] as const

/** A folder with the contact program, the headers of a register, and a private header. */
export class Workbench {
  readonly folder = mkdtempSync(join(tmpdir(), 'sashtally-contact-'))
  #made = 0

  constructor(register: Register, passwords: ReadonlyMap<string, string> = new Map()) {
    for (const name of readdirSync(SOURCES)) copyFileSync(join(SOURCES, name), join(this.folder, name))
    this.take(register, passwords)
  }

  /** Headers of a register, over those that are there. */
  take(register: Register, passwords: ReadonlyMap<string, string> = new Map()): void {
    for (const opening of register.openings) {
      const { name, text } = firmwareHeader(opening, register)
      writeFileSync(join(this.folder, name), text)
    }
    writeFileSync(join(this.folder, 'private.h'), fillPrivate(privateHeader(register), passwords))
  }

  write(name: string, text: string): void {
    writeFileSync(join(this.folder, name), text)
  }

  read(name: string): string {
    return readFileSync(join(this.folder, name), 'utf8')
  }

  /** What a compiler says. */
  compile(compiler: string, mark: string, args: readonly string[]): { status: number | null; says: string } {
    const done = spawnSync(compiler, [...STRICT, `-DCONTACT_HEADER="${mark.toLowerCase()}.h"`, '-I.', ...args], {
      cwd: this.folder,
      encoding: 'utf8',
    })
    return { status: done.status, says: done.stderr }
  }

  /**
   * A contact as a program; `port` is one of the ports beside this file, or `contact_posix`.
   * @throws Error with what the compiler says
   */
  build(mark: string, port: string, args: readonly string[] = ['-Os']): string {
    const program = join(this.folder, `${mark.toLowerCase()}-${++this.#made}`)
    const source = port === 'contact_posix' ? 'contact_posix.c' : join(PORTS, `${port}.c`)
    const { status, says } = this.compile('gcc', mark, [...args, 'contact.c', source, '-o', program])
    if (status !== 0) throw new Error(says)
    return program
  }

  /** Bytes of text, and of data and bss, of contact.c alone at -Os. */
  sizes(mark: string): { text: number; data: number; bss: number } {
    const { status, says } = this.compile('gcc', mark, ['-Os', '-c', 'contact.c', '-o', 'contact.o'])
    if (status !== 0) throw new Error(says)
    const [, line = ''] = execFileSync('size', ['contact.o'], { cwd: this.folder, encoding: 'utf8' }).split('\n')
    const [text = 0, data = 0, bss = 0] = line.trim().split(/\s+/).map(Number)
    return { text, data, bss }
  }

  clear(): void {
    rmSync(this.folder, { recursive: true, force: true })
  }
}

/** A house with each kind of contact, on a broker at a port of this machine; keep-alives as short as they can be. */
export const benchHouse = (
  port = 1883,
  more: Partial<Record<'coin' | 'json' | 'yard' | 'opening', string>> = {},
  keepAliveSeconds = 1,
): Register =>
  registerOf(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://127.0.0.1:${port}' }
tally: ropewalk/tally
wifi: { name: Ropewalk yard }
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: ${keepAliveSeconds}${more.coin ?? ''} }
  json: { reports: openings, cell: CR2450, words: { opened: opened, rest: asleep }, keepAliveSeconds: ${keepAliveSeconds},
    json: { word: /word, boots: /boots, millivolts: /cell/mv, joinMilliseconds: /cell/ms, revision: /rev }${more.json ?? ''} }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }, keepAliveSeconds: ${keepAliveSeconds}${more.yard ?? ''} }
openings:
  - { mark: W01, name: Dye room, sender: coin${more.opening ?? ''} }
  - { mark: W10, name: Loft, sender: json }
  - { mark: D01, name: Street door, sender: yard }
`)
