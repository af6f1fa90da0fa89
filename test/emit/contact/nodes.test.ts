import { execFileSync } from 'node:child_process'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { needs } from '../../support/missing.ts'
import { registerOf } from '../houses.ts'
import { SANITIZED, Workbench } from './built.ts'

const haveCompiler = needs('gcc')

interface Start {
  readonly end: number
  readonly fast: number
  readonly slow: number
  readonly nodes: string
  readonly tries: number
  readonly savedNetwork: number
  readonly acknowledgedMilliseconds: number
  readonly awakeMilliseconds: number
}

const ACKNOWLEDGED = 0
const REFUSED = 3

const cluster = registerOf(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: ['mqtt://a.lan', 'mqtt://b.lan:1884', 'mqtt://c.lan'] }
tally: ropewalk/tally
senders: { coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } } }
openings: [{ mark: W01, name: Dye room, sender: coin }]
`)

describe(haveCompiler.title('a contact whose broker has three nodes'), { skip: haveCompiler.skip }, () => {
  let bench: Workbench
  let program: string
  /** Plays starts one after the other on one module; see fake_port.c for what a script can say. */
  const play = (...scripts: string[]): Start[] =>
    execFileSync(program, scripts, { encoding: 'utf8' })
      .trim()
      .split('\n')
      .map(line => JSON.parse(line) as Start)

  beforeAll(() => {
    bench = new Workbench(cluster)
    program = bench.build('W01', 'fake_port', SANITIZED)
  })
  afterAll(() => bench.clear())

  test('the first is opened first, and flash is written only when the network was learned', () => {
    const starts = play('', '', '')
    expect(starts.map(({ nodes }) => nodes)).toEqual(['0', '0', '0'])
    expect(starts.map(({ savedNetwork }) => savedNetwork)).toEqual([1, 0, 0])
  })

  test('a node whose machine is gone costs one opening 1.2 s, and the next ones nothing', () => {
    const [, dead, after, last] = play('', 'open=fails,20', '', '')
    expect(dead).toMatchObject({ end: ACKNOWLEDGED, nodes: '01', tries: 1, fast: 1, slow: 0, savedNetwork: 1 })
    // 170 ms to join, 1,200 at the dead node, 20 at the next, 10 until the acknowledgement.
    expect(dead!.acknowledgedMilliseconds).toBe(1400)
    for (const start of [after, last])
      expect(start).toMatchObject({ nodes: '1', savedNetwork: 0, acknowledgedMilliseconds: 200 })
  })

  test('a node that refuses the connection costs its answer', () => {
    const [, dead] = play('', 'open=refused,20')
    expect(dead).toMatchObject({ end: ACKNOWLEDGED, nodes: '01', acknowledgedMilliseconds: 205 })
  })

  test('it goes round: from the last node to the first', () => {
    const [, two, three, back] = play('', 'open=fails,20', 'open=fails,20', 'open=fails,20')
    expect([two, three, back].map(start => start!.nodes)).toEqual(['01', '12', '20'])
  })

  test.each([
    ['says nothing to CONNECT', 'ack=10 connack=silent,0'],
    ['is there but not ready (return code 3)', 'ack=10 connack=3,0'],
    ['ends the connection', 'ack=10 connack=closes,0'],
    ['does not acknowledge the word', 'ack=silent,10'],
  ])('a node that %s is left for the next, without a slow join', (_, script) => {
    const [, start, after] = play('', script, '')
    expect(start).toMatchObject({ end: ACKNOWLEDGED, nodes: '01', tries: 2, slow: 0, savedNetwork: 1 })
    expect(after).toMatchObject({ end: ACKNOWLEDGED, nodes: '1', tries: 1, savedNetwork: 0 })
  })

  test('an account that one node refuses is not tried at the others', () => {
    const [, start] = play('', 'connack=5')
    expect(start).toMatchObject({ end: REFUSED, nodes: '0' })
  })

  test('where no node answers it joins slowly once and asks all of them again, in two tries within the limit of one opening', () => {
    const [, start, after] = play('', 'open=fails', '')
    expect(start!.nodes).toBe('012012012')
    expect(start).toMatchObject({ slow: 1 })
    expect(start!.awakeMilliseconds).toBeLessThanOrEqual(16_000)
    expect(after).toMatchObject({ end: ACKNOWLEDGED, nodes: '0', tries: 1 })
  })
})
