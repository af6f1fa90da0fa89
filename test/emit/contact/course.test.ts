import { execFileSync } from 'node:child_process'
import { type IConnectPacket, type IPublishPacket, type Packet, parser } from 'mqtt-packet'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { needs } from '../../support/missing.ts'
import { benchHouse, SANITIZED, Workbench } from './built.ts'

const haveCompiler = needs('gcc')

const END = { acknowledged: 0, notJoined: 1, notReached: 2, refused: 3, notAcknowledged: 4, starved: 5 } as const

interface Start {
  readonly end: number
  readonly refusal: number
  readonly fast: number
  readonly slow: number
  readonly open: number
  readonly close: number
  readonly tries: number
  readonly savedBoots: number
  readonly savedNetwork: number
  readonly boots: number
  readonly rested: number
  readonly lowest: number
  readonly joinMilliseconds: number
  readonly acknowledgedMilliseconds: number
  readonly awakeMilliseconds: number
  readonly restedMilliseconds: number
  readonly joinedFast: boolean
  readonly sleepSeconds: number
  /** Nodes of the broker that were opened, in order. */
  readonly nodes: string
  /** Packets that were sent, as another implementation of MQTT reads them. */
  readonly packets: readonly Packet[]
}

function packetsOf(hex: string): Packet[] {
  const read = parser({ protocolVersion: 4 })
  const packets: Packet[] = []
  read.on('packet', packet => packets.push(packet))
  read.on('error', error => {
    throw error
  })
  read.parse(Buffer.from(hex.replaceAll(' ', ''), 'hex'))
  return packets
}

describe(haveCompiler.title('the course of one opening, on a fake module'), { skip: haveCompiler.skip }, () => {
  let bench: Workbench
  const programs = new Map<string, string>()
  /** Plays starts one after the other on one module; see fake_port.c for what a script can say. */
  const play = (mark: string, ...scripts: string[]): Start[] => {
    const program = programs.get(mark) ?? bench.build(mark, 'fake_port', SANITIZED)
    programs.set(mark, program)
    return execFileSync(program, scripts, { encoding: 'utf8' })
      .trim()
      .split('\n')
      .map(line => {
        const { sent, ...start } = JSON.parse(line) as Start & { sent: string }
        return { ...start, packets: packetsOf(sent) }
      })
  }
  const publishes = ({ packets }: Start) =>
    packets.filter((packet): packet is IPublishPacket => packet.cmd === 'publish')

  beforeAll(() => {
    bench = new Workbench(benchHouse())
  })
  afterAll(() => bench.clear())

  test('the first opening joins slowly and keeps what it learned; the second joins fast and writes nothing', () => {
    const [first, second, third] = play('W01', '', '', '')
    expect(first).toMatchObject({ end: END.acknowledged, fast: 0, slow: 1, savedNetwork: 1, savedBoots: 0, tries: 1 })
    expect(first!.acknowledgedMilliseconds).toBe(3900 + 20 + 10)
    for (const start of [second, third])
      expect(start).toMatchObject({ fast: 1, slow: 0, savedNetwork: 0, savedBoots: 0, acknowledgedMilliseconds: 200 })
  })

  test('flash is written for the boot count once a start, before anything can drop the cell, and else not at all', () => {
    const starts = play('W10', '', '', 'fast=fails slow=fails', 'connack=5', '')
    expect(starts.map(({ savedBoots, boots }) => [savedBoots, boots])).toEqual([1, 2, 3, 4, 5].map(boots => [1, boots]))
    expect(starts.map(({ savedNetwork }) => savedNetwork)).toEqual([1, 0, 0, 0, 0])
  })

  test('a fast join that is refused, or does not answer in time, is followed by a slow one', () => {
    const [, refused, hung] = play('W01', '', 'fast=fails', 'fast=5000')
    for (const start of [refused, hung]) {
      expect(start).toMatchObject({ end: END.acknowledged, fast: 1, slow: 1, joinedFast: false, savedNetwork: 0 })
      expect(start!.acknowledgedMilliseconds).toBe(800 + 3900 + 20 + 10)
    }
  })

  test('where a fast join leads to no broker, what was known may be out of date: once more, slowly', () => {
    const [, start] = play('W01', '', 'open=fails,20')
    expect(start).toMatchObject({ end: END.acknowledged, fast: 1, slow: 1, open: 2, tries: 1 })
  })

  test('where the kept address has become that of a machine that does not speak MQTT, the next try joins slowly', () => {
    for (const mute of ['silent', 'nonsense', 'closes']) {
      const [, start, after] = play('W01', '', `ack=10 connack=${mute},0`, '')
      expect(start).toMatchObject({ end: END.acknowledged, fast: 1, slow: 1, tries: 2 })
      expect(after).toMatchObject({ end: END.acknowledged, fast: 1, slow: 0, tries: 1 })
    }
  })

  test('without a network it sleeps', () => {
    const [start] = play('W01', 'slow=fails')
    expect(start).toMatchObject({ end: END.notJoined, slow: 1, open: 0, packets: [], awakeMilliseconds: 9000 })
  })

  test.each([1, 2, 3, 4, 5])('a refusal (return code %i) ends in sleep after one connection', code => {
    const [start] = play('W01', `connack=${code}`)
    expect(start).toMatchObject({ end: END.refused, refusal: code, open: 1, close: 0 })
    expect(start!.packets.map(({ cmd }) => cmd)).toEqual(['connect'])
  })

  test('what it says is what the header says', () => {
    const [start] = play('W10', 'volts=3010,2870,2950')
    const [connect, publish] = start!.packets as [IConnectPacket, IPublishPacket]
    expect(connect).toMatchObject({
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      clientId: 'ropewalkw10',
      keepalive: 1,
      will: { topic: 'ropewalk/w10', qos: 1, retain: true },
    })
    expect(String(connect.will!.payload)).toBe('asleep')
    expect(connect.username).toBeUndefined()
    expect(publish).toMatchObject({ topic: 'ropewalk/w10', qos: 1, retain: false, dup: false })
    expect(publish.messageId).toBeGreaterThan(0)
    const { revision } = benchHouse().openings.find(({ mark }) => mark === 'W10')!
    // The lowest so far and the time so far: what comes after it is sent cannot stand in it.
    expect(JSON.parse(String(publish.payload))).toEqual({
      word: 'opened',
      boots: 1,
      cell: { mv: 2870, ms: 3920 },
      rev: revision,
    })
    expect(start).toMatchObject({ rested: 3010, lowest: 2870, joinMilliseconds: 3920, acknowledgedMilliseconds: 3930 })
  })

  test('an acknowledgement that comes late, but in time, is waited for', () => {
    const [start] = play('W01', 'ack=2400')
    expect(start).toMatchObject({ end: END.acknowledged, tries: 1 })
    expect(publishes(start!)).toHaveLength(1)
  })

  test('a word that is not acknowledged is said again on a new connection: DUP, the same id, the same bytes', () => {
    const [, start] = play('W10', '', 'ack=silent,10 volts=3000,2990,2980,2970,2960,2950,2940,2930')
    expect(start).toMatchObject({ end: END.acknowledged, tries: 2, close: 1 })
    expect(start!.packets.map(({ cmd }) => cmd)).toEqual(['connect', 'publish', 'connect', 'publish'])
    const [first, again] = publishes(start!)
    expect([first!.dup, again!.dup]).toEqual([false, true])
    expect(again!.messageId).toBe(first!.messageId)
    expect(String(again!.payload)).toBe(String(first!.payload))
    expect(start!.acknowledgedMilliseconds).toBe(170 + 20 + 2500 + 1000 + 20 + 10)
  })

  test.each([
    ['stays silent', 'ack=silent', END.notAcknowledged],
    ['closes', 'ack=closes', END.notAcknowledged],
    ['acknowledges another message', 'ack=stale', END.notAcknowledged],
    ['does not answer CONNECT', 'connack=silent', END.notReached],
    ['closes after CONNECT', 'connack=closes', END.notReached],
    ['answers CONNECT with a publication', 'connack=nonsense', END.notReached],
    ['cannot be reached', 'open=fails', END.notReached],
  ])('a broker that %s gets two tries, then the contact sleeps', (_, script, end) => {
    const [, start] = play('W01', '', script)
    expect(start).toMatchObject({ end, tries: 2 })
    expect(start!.awakeMilliseconds).toBeLessThanOrEqual(16_000)
  })

  test('nothing keeps it awake beyond the limit of one opening', () => {
    const [start] = play('W01', 'slow=8999 open=2499,2499 connack=silent ack=silent')
    expect(start!.awakeMilliseconds).toBe(16_000)
  })

  test('after a brown-out it rests and tries again, twice; the third in a row ends in sleep until power comes anew', () => {
    const out = 'start=browned-out'
    const starts = play('W01', '', out, out, out, out, 'start=powered', out)
    expect(starts.map(({ end }) => end)).toEqual([0, 0, 0, END.starved, END.starved, 0, 0])
    expect(starts.map(({ restedMilliseconds }) => restedMilliseconds)).toEqual([0, 2000, 2000, 0, 0, 0, 2000])
    expect(starts[3]!.packets).toEqual([])
    // The rest is no part of the join.
    expect(starts[1]!.joinMilliseconds).toBe(190)
  })

  test('each start after a brown-out counts: the sends that nobody heard show as a gap', () => {
    const starts = play('W10', '', 'start=browned-out', 'start=browned-out', 'start=browned-out', '')
    expect(starts.map(({ boots }) => boots)).toEqual([1, 2, 3, 4, 5])
  })

  test.each(['nonsense', 'new'])(
    'flash that is %s is taken for nothing: it joins slowly and counts from one',
    flash => {
      const [, start, after] = play('W10', '', `flash=${flash}`, '')
      expect(start).toMatchObject({ end: END.acknowledged, fast: 0, slow: 1, savedBoots: 1, savedNetwork: 1, boots: 1 })
      expect(after).toMatchObject({ fast: 1, slow: 0, savedNetwork: 0, boots: 2 })
    },
  )

  test('a network that is learned anew is kept; with the same once more nothing is written', () => {
    const wild = new Workbench(benchHouse(1883, { opening: ", wifi: { channel: 1, bssid: '02:00:5e:10:00:09' }" }))
    try {
      const program = wild.build('W01', 'fake_port', SANITIZED)
      const lines = execFileSync(program, ['', 'fast=fails', 'fast=fails', ''], { encoding: 'utf8' }).trim().split('\n')
      const starts = lines.map(line => JSON.parse(line) as Start)
      // What the register says is tried before anything was learned, and costs no write.
      expect(starts.map(({ fast, slow, savedNetwork }) => [fast, slow, savedNetwork])).toEqual([
        [1, 0, 0],
        [1, 1, 1],
        [1, 1, 0],
        [1, 0, 0],
      ])
    } finally {
      wild.clear()
    }
  })

  test('with a repeat the timer wakes it, and each word is a start of its own', () => {
    const repeating = new Workbench(benchHouse(1883, { json: ', repeatSeconds: 600' }))
    try {
      const program = repeating.build('W10', 'fake_port', SANITIZED)
      const lines = execFileSync(program, ['', 'start=woken'], { encoding: 'utf8' }).trim().split('\n')
      expect(lines.map(line => JSON.parse(line) as Start)).toMatchObject([
        { sleepSeconds: 600, boots: 1 },
        { sleepSeconds: 600, boots: 2 },
      ])
    } finally {
      repeating.clear()
    }
  })

  test.each([0, 1, 2])('QoS %i, word by word', qos => {
    const house = new Workbench(benchHouse(1883, { coin: `, qos: ${qos}` }))
    try {
      const out = execFileSync(house.build('W01', 'fake_port', SANITIZED), ['', 'ack=silent,10'], { encoding: 'utf8' })
      const [fine, late] = out
        .trim()
        .split('\n')
        .map(line => {
          const { sent, end } = JSON.parse(line) as { sent: string; end: number }
          return { end, packets: packetsOf(sent) }
        })
      const said = qos === 2 ? ['publish', 'pubrel'] : ['publish']
      expect(fine).toMatchObject({ end: END.acknowledged })
      expect(fine!.packets.map(({ cmd }) => cmd)).toEqual(['connect', ...said])
      expect(fine!.packets[1]).toMatchObject({ qos, dup: false, ...(qos === 0 ? {} : { messageId: 1 }) })
      if (qos === 2) expect(fine!.packets[2]).toMatchObject({ messageId: 1 })
      expect(late!.packets.map(({ cmd }) => cmd)).toEqual([
        'connect',
        ...(qos === 0 ? said : ['publish', 'connect', ...said]),
      ])
    } finally {
      house.clear()
    }
  })

  test.each(['W01', 'W10'])('whatever module, network and broker do, %s sleeps in time and writes little', mark => {
    const wild = bench.build(mark, 'wild_port', SANITIZED)
    const ends = [0, 0, 0, 0, 0, 0]
    for (const seed of ['1', '2026', '4242424242']) {
      const done = JSON.parse(execFileSync(wild, [seed, '20000'], { encoding: 'utf8' })) as { ends: number[] }
      done.ends.forEach((count, end) => {
        ends[end] = ends[end]! + count
      })
    }
    // Every end was reached, the good one often.
    expect(ends.every(count => count > 0)).toBe(true)
    expect(ends[END.acknowledged]).toBeGreaterThan(15_000)
  })

  test('whatever happens to a contact of both edges, it pauses before it comes back', () => {
    const wild = bench.build('D01', 'wild_port', SANITIZED)
    const { published } = JSON.parse(execFileSync(wild, ['7', '2000'], { encoding: 'utf8' })) as { published: number }
    expect(published).toBeGreaterThan(10_000)
  })
})
