import { expect, it } from 'vitest'
import { brokerNamed, Claims, claimsOf, clashesOf, clashSentence } from '../../src/keeper/houses/claims.ts'
import { HOUSE, registerOf } from './bench-house.ts'

const claim = (what: string, line?: number) => ({ what, why: 'only one may', ...(line === undefined ? {} : { line }) })

it('what one file has no other gets, until it lets go', () => {
  const claims = new Claims()
  const [name, tally] = [claim('the name b', 3), claim('the tally x', 4)]
  expect(claims.take('a.yaml', [claim('the tally x', 7), claim('the name a')])).toEqual([])
  const clashes = claims.take('b.yaml', [name, tally])
  expect(clashes).toEqual([{ claim: tally, holder: 'a.yaml', held: claim('the tally x', 7) }])
  expect(clashSentence('b.yaml', clashes[0]!)).toBe('b.yaml:4 and a.yaml:7 both have the tally x: only one may')
  expect(claims.take('c.yaml', [name])).toEqual([])
  claims.release('a.yaml')
  claims.release('c.yaml')
  expect(claims.take('b.yaml', [name, tally])).toEqual([])
})

it('a file that wants something else lets go of what it had, but not where it does not get it', () => {
  const claims = new Claims()
  claims.take('a.yaml', [claim('x')])
  claims.take('c.yaml', [claim('z')])
  expect(claims.take('a.yaml', [claim('y'), claim('z')])).toHaveLength(1)
  expect(claims.take('b.yaml', [claim('x')])).toHaveLength(1)
  expect(claims.take('b.yaml', [claim('y')])).toEqual([])
  expect(claims.take('a.yaml', [claim('w')])).toEqual([])
  expect(claims.take('b.yaml', [claim('x')])).toEqual([])
})

it('a house claims its tally, its client ids and its topics at each address of its broker', () => {
  const register = registerOf()
  const broker = { mqtt: 'mqtt://broker.lan', websocket: 'ws://broker.lan:9001' }
  const all = claimsOf('dye', { ...register, broker }).map(({ what, at }) => `${what} at ${at}`)
  expect(all).toHaveLength(1 + 2 * (1 + 2 * register.openings.length))
  expect(all).toContain('the topic ropewalk/w01 at broker.lan:1883')
  expect(claimsOf('dye', { ...register, broker: {} }).map(({ what }) => what)).toEqual(['the name dye'])
})

it('each clash of a folder is found once, and names both lines', () => {
  const [dye, rope] = [registerOf(), registerOf(HOUSE.replace('tally: ropewalk/tally', 'tally: rope/tally'))]
  expect([
    ...clashesOf(
      new Map([
        ['dye.yaml', dye],
        ['rope.yaml', rope],
      ]),
    ),
  ]).toEqual([
    ['dye.yaml', []],
    ['rope.yaml', []],
  ])
  const copied = registerOf(
    HOUSE.replace('tally: ropewalk/tally', 'tally: rope/tally').replace(
      "'Stair', sender",
      "'Stair', client: ropewalkw01, sender",
    ),
  )
  const clashes = clashesOf(
    new Map([
      ['dye.yaml', dye],
      ['rope.yaml', copied],
      ['twin.yaml', dye],
    ]),
  )
  const told = [...clashes].flatMap(([file, all]) => all.map(clash => clashSentence(file, clash)))
  const line = (text: string) => HOUSE.split('\n').findIndex(each => each.includes(text)) + 1
  expect(told[0]).toBe(
    `rope.yaml:${line('W03')} and dye.yaml:${line('W01')} both have the client id ropewalkw01 at broker.lan:1883: a broker keeps one of two clients with one id`,
  )
  expect(told).toHaveLength(1 + 1 + 2 * dye.openings.length)
})

it('an address that is none names itself', () => {
  expect(brokerNamed('mqtt://h^ost:1883')).toBe('h^ost:1883')
  expect(brokerNamed('ws://1.2.3.999:9001')).toBe('1.2.3.999:9001')
  expect(brokerNamed('nothing')).toBe('nothing')
})

it('one broker has one name, however its address is written', () => {
  expect(brokerNamed('mqtt://Broker.lan')).toBe(brokerNamed('mqtt://broker.lan:1883'))
  expect(brokerNamed('wss://broker.lan')).toBe('broker.lan:443')
  expect(brokerNamed('mqtt://[::1]:1883')).not.toBe(brokerNamed('mqtt://127.0.0.1'))
})
