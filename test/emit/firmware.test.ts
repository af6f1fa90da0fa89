import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cString } from '../../src/emit/firmware/c-text.ts'
import { firmwareHeader } from '../../src/emit/firmware/firmware.ts'
import { payloadFormat, payloadText } from '../../src/emit/firmware/printf-payload.ts'
import { privateHeader } from '../../src/emit/firmware/private-header.ts'
import type { Register } from '../../src/register/types.ts'
import { needs } from '../support/missing.ts'
import { anyHouse, registerOf, ropewalk } from './houses.ts'

const haveCompilers = needs('gcc', 'g++')
const STRICT = ['-Wall', '-Wextra', '-pedantic', '-Werror', '-fsyntax-only']

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-headers-'))
  writeFileSync(join(folder, 'private.h'), privateHeader(ropewalk()))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Prints every macro of one header as JSON; strings as hex, so that no byte is lost on the way. */
function program(header: string): string {
  const text = (name: string) => `#ifdef ${name}\n  hex("${name}", ${name});\n#endif`
  const number = (name: string) => `#ifdef ${name}\n  printf(",\\"${name}\\":%d", ${name});\n#endif`
  const texts = [
    'REVISION',
    'MARK',
    'CLIENT_ID',
    'TOPIC',
    'WORD_OPENED',
    'WORD_CLOSED',
    'WILL_WORD',
    'BROKER_HOST',
    'PAYLOAD_OPENED_FORMAT',
    'WIFI_ADDRESS',
    'WIFI_NAME',
  ]
  const numbers = [
    'REPORTS_BOTH',
    'QOS',
    'RETAIN',
    'WILL_QOS',
    'WILL_RETAIN',
    'KEEP_ALIVE_SECONDS',
    'BROKER_PORT',
    'BROKER_TLS',
    'PAYLOAD_JSON',
    'WIFI_CHANNEL',
  ]
  return `#include <stdio.h>
#include "${header}"
static void hex(const char *name, const char *text) {
  printf(",\\"%s\\":\\"", name);
  for (; *text; text++) printf("%02x", (unsigned)(unsigned char)*text);
  printf("\\"");
}
int main(void) {
  printf("{\\"v\\":1");
${texts.map(name => text(`CONTACT_${name}`)).join('\n')}
${numbers.map(name => number(`CONTACT_${name}`)).join('\n')}
  printf("}\\n");
  return 0;
}
`
}

/** What a compiler makes of one header: name without CONTACT_, value. */
function compiled(register: Register, mark: string): Record<string, string | number> {
  const header = firmwareHeader(register.openings.find(opening => opening.mark === mark)!, register)
  writeFileSync(join(folder, header.name), header.text)
  writeFileSync(join(folder, 'show.c'), program(header.name))
  execFileSync('gcc', ['-std=c99', ...STRICT.slice(0, 4), 'show.c', '-o', 'show'], { cwd: folder })
  const values: Record<string, unknown> = JSON.parse(execFileSync(join(folder, 'show'), { encoding: 'utf8' }))
  return Object.fromEntries(
    Object.entries(values).map(([name, value]) => [
      name.replace('CONTACT_', ''),
      typeof value === 'string' ? Buffer.from(value, 'hex').toString('utf8') : (value as number),
    ]),
  )
}

const WIFI = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtts://broker.lan' }
tally: ropewalk/tally
senders:
  coin:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    wifi: { name: Ropewalk yard, channel: 6, bssid: '02:00:5e:10:00:01', address: 192.168.7.31 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
`

describe(haveCompilers.title('headers'), { skip: haveCompilers.skip }, () => {
  test('every header of the example compiles as C99 and C++17 without a warning', () => {
    const register = ropewalk()
    const headers = register.openings.map(opening => firmwareHeader(opening, register))
    for (const { name, text } of headers) writeFileSync(join(folder, name), text)
    for (const [command, standard, file] of [
      ['gcc', '-std=c99', 'all.c'],
      ['g++', '-std=c++17', 'all.cpp'],
    ] as const) {
      const each = headers.map(({ name }) => name)
      for (const name of each) {
        writeFileSync(join(folder, file), `#include "${name}"\nint main(void) { return CONTACT_QOS - CONTACT_QOS; }\n`)
        const made = spawnSync(command, [standard, ...STRICT, file], { cwd: folder, encoding: 'utf8' })
        expect(made.stderr).toBe('')
        expect(made.status).toBe(0)
      }
    }
  })

  test('the compiler reads what the register says', () => {
    expect(compiled(registerOf(WIFI), 'W01')).toMatchObject({
      MARK: 'W01',
      CLIENT_ID: 'ropewalkw01',
      TOPIC: 'ropewalk/w01',
      WORD_OPENED: 'opened',
      WILL_WORD: 'asleep',
      BROKER_HOST: 'broker.lan',
      BROKER_PORT: 8883,
      BROKER_TLS: 1,
      QOS: 1,
      RETAIN: 0,
      WILL_RETAIN: 1,
      KEEP_ALIVE_SECONDS: 4,
      REPORTS_BOTH: 0,
      WIFI_NAME: 'Ropewalk yard',
      WIFI_CHANNEL: 6,
      WIFI_ADDRESS: '192.168.7.31',
    })
    const door = ropewalk().openings.find(({ sender }) => sender.reports === 'both')!
    expect(compiled(ropewalk(), door.mark)).toMatchObject({
      RETAIN: 1,
      REPORTS_BOTH: 1,
      WORD_CLOSED: 'shut',
      WILL_WORD: 'lost',
    })
  })

  test('any names and words reach the compiler unchanged, in C99 and C++17', () => {
    fc.assert(
      fc.property(anyHouse, register => {
        const { mark, sender } = register.openings[0]!
        fc.pre(!sender.words.opened.includes('\0') && !/\p{Cs}/u.test(sender.words.opened))
        expect(compiled(register, mark).WORD_OPENED).toBe(sender.words.opened)
        writeFileSync(join(folder, 'show.cpp'), program(`${mark.toLowerCase()}.h`))
        const made = spawnSync('g++', ['-std=c++17', ...STRICT, 'show.cpp'], { cwd: folder, encoding: 'utf8' })
        expect(made.stderr).toBe('')
      }),
      { numRuns: 25 },
    )
  })

  test('no credential stands in a header', () => {
    const register = ropewalk()
    const { text } = firmwareHeader(register.openings[0]!, register)
    expect(text).toContain('#include "private.h"')
    expect(text).toContain('#define CONTACT_PASSWORD PRIVATE_PASSWORD_W01\n')
    expect(text.match(/#define PRIVATE_/)).toBeNull()
  })
})

describe(haveCompilers.title('JSON payloads'), { skip: haveCompilers.skip }, () => {
  // The C library's own printf reads the format.
  const printed = (format: string, figures: string): string => {
    writeFileSync(join(folder, 'format.h'), `#define FORMAT ${cString(format)}\n#define FIGURES ${figures}\n`)
    writeFileSync(
      join(folder, 'print.c'),
      '#include "format.h"\n#include <stdio.h>\nint main(void) {\n  unsigned long boots = 17, join_milliseconds = 174;\n  unsigned int millivolts = 2961;\n  (void)boots, (void)join_milliseconds, (void)millivolts;\n  printf(FORMAT FIGURES);\n  return 0;\n}\n',
    )
    execFileSync('gcc', ['-std=c99', '-Wall', '-Wextra', 'print.c', '-o', 'print'], { cwd: folder })
    return execFileSync(join(folder, 'print'), { encoding: 'utf8' })
  }
  const NAMES = { boots: 'boots', millivolts: 'millivolts', joinMilliseconds: 'join_milliseconds' }

  test.each([
    [{ word: '/word' }, { word: 'o 100%' }],
    [{ word: '' }, 'o 100%'],
    [{ word: '/' }, { '': 'o 100%' }],
    [
      { word: '/a/word', boots: '/n', millivolts: '/a/mv', joinMilliseconds: '/a/~1ms~0', revision: '/rev' },
      { a: { word: 'o 100%', mv: 2961, '/ms~': 174 }, n: 17, rev: '0123abcd' },
    ],
    [
      { word: '/figure', boots: '/0', millivolts: '/%u' },
      { figure: 'o 100%', '0': 17, '%u': 2961 },
    ],
  ])('%j is printed in C, and said here, as %j', (json, payload) => {
    const made = payloadFormat(json, 'o 100%', '0123abcd')
    const text = printed(made.format, made.figures.map(figure => `, ${NAMES[figure]}`).join(''))
    expect(JSON.parse(text)).toEqual(payload)
    expect(payloadText(made, { boots: 17, millivolts: 2961, joinMilliseconds: 174 })).toBe(text)
  })
})
