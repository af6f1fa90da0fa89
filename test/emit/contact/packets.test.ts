import { execFileSync } from 'node:child_process'
import fc from 'fast-check'
import { generate, type Packet, parser } from 'mqtt-packet'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { needs } from '../../support/missing.ts'
import { benchHouse, SANITIZED, STRICT, Workbench } from './built.ts'

const haveCompiler = needs('gcc')

describe(haveCompiler.title('the packet reader'), { skip: haveCompiler.skip }, () => {
  let bench: Workbench
  beforeAll(() => {
    bench = new Workbench(benchHouse())
    const source = new URL('reader_main.c', import.meta.url).pathname
    execFileSync('gcc', [...STRICT, ...SANITIZED, '-I.', source, '-o', 'reader'], { cwd: bench.folder })
  })
  afterAll(() => bench.clear())

  /** One line for each run of bytes; an error when the sanitizers find anything. */
  const read = (cases: readonly Uint8Array[]): string[] => {
    const input = Buffer.concat(cases.map(bytes => Buffer.from([bytes.length >> 8, bytes.length & 255, ...bytes])))
    return execFileSync(`${bench.folder}/reader`, { input, encoding: 'utf8' }).split('\n').slice(0, -1)
  }

  // What a server may send to a client that never subscribes: MQTT 3.1.1, sections 3.2, 3.4, 3.5, 3.7, 3.13; made by
  // another implementation of MQTT.
  const id = fc.integer({ min: 1, max: 65_535 })
  const known: fc.Arbitrary<Packet> = fc.oneof(
    fc
      .record({ returnCode: fc.integer({ min: 0, max: 5 }), sessionPresent: fc.boolean() })
      .map(made => ({ cmd: 'connack' as const, ...made })),
    ...(['puback', 'pubrec', 'pubcomp'] as const).map(cmd => id.map(messageId => ({ cmd, messageId }))),
    fc.constant({ cmd: 'pingresp' as const }),
  )
  const bytesOf = (packets: readonly Packet[]) =>
    Buffer.concat(packets.map(packet => generate(packet, { protocolVersion: 4 })))
  const told = (packet: Packet): string => {
    const bytes = generate(packet, { protocolVersion: 4 })
    return `${[bytes[0]!, bytes[2], bytes[3]].map(byte => (byte ?? 0).toString(16).padStart(2, '0')).join('')}`
  }

  test('every packet that a server may send is read as what it is', () => {
    fc.assert(
      fc.property(fc.array(fc.array(known, { maxLength: 6 }), { minLength: 1, maxLength: 60 }), cases => {
        const lines = read(cases.map(bytesOf))
        // The body of PINGRESP is what was read before: it has none.
        const alike = (line: string) => line.trim().replace(/d0[0-9a-f]{4}/g, 'd00000')
        expect(lines.map(alike)).toEqual(cases.map(packets => packets.map(told).join(' ')))
      }),
      { numRuns: 40 },
    )
  })

  test('what another reader takes for no such packet is nonsense here, and reading stops', () => {
    const wild = fc.oneof(
      fc.uint8Array({ maxLength: 40 }),
      fc
        .tuple(fc.array(known, { maxLength: 4 }), fc.uint8Array({ maxLength: 8 }))
        .map(([packets, tail]) => new Uint8Array([...bytesOf(packets), ...tail])),
      fc
        .tuple(fc.array(known, { minLength: 1, maxLength: 4 }), fc.nat(), fc.integer({ min: 1, max: 255 }))
        .map(([packets, at, flip]) => {
          const bytes = new Uint8Array(bytesOf(packets))
          bytes[at % bytes.length]! ^= flip
          return bytes
        }),
    )
    let [nonsense, sense] = [0, 0]
    fc.assert(
      fc.property(fc.array(wild, { minLength: 40, maxLength: 200 }), cases => {
        read(cases).forEach((line, index) => {
          const taken = line.split(' ').filter(part => /^[0-9a-f]{6}$/.test(part))
          const theirs: string[] = []
          const other = parser({ protocolVersion: 4 })
          let failed = false
          other.on('packet', packet => {
            if (!failed) theirs.push(packet.cmd)
          })
          other.on('error', () => {
            failed = true
          })
          other.parse(Buffer.from(cases[index]!))
          // All that is taken here is a packet there too, in the same order.
          const names: Readonly<Record<string, string>> = {
            '20': 'connack',
            '40': 'puback',
            '50': 'pubrec',
            '70': 'pubcomp',
            d0: 'pingresp',
          }
          expect(taken.map(part => names[part.slice(0, 2)])).toEqual(theirs.slice(0, taken.length))
          if (line.includes('!')) nonsense++
          else sense++
        })
      }),
      { numRuns: 60 },
    )
    expect(nonsense).toBeGreaterThan(100)
    expect(sense).toBeGreaterThan(100)
  })

  test.each([
    ['a publication, which nobody asked for', '30020000', '!'],
    ['a length that is written longer than it need be', '20820000', '!'],
    ['an acknowledgement of one byte', '400100', '!'],
    ['flags where there are none', '41020001', '!'],
    ['a packet and half of the next', '2002000040', '200000 '],
    ['nothing', '', ''],
  ])('%s', (_, hex, line) => expect(read([Buffer.from(hex, 'hex')])).toEqual([line]))
})
