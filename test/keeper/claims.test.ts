import { expect, it } from 'vitest'
import { accounts, sharing } from '../../src/emit/broker/access.ts'
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

it('a file that takes more has both until it takes again', () => {
  const claims = new Claims()
  claims.take('a.yaml', [claim('x'), claim('y')])
  claims.take('c.yaml', [claim('w')])
  expect(claims.takeToo('a.yaml', [claim('z'), claim('w')])).toHaveLength(1)
  expect(claims.take('b.yaml', [claim('z')])).toEqual([])
  claims.release('b.yaml')
  expect(claims.takeToo('a.yaml', [claim('y'), claim('z')])).toEqual([])
  for (const what of ['x', 'y', 'z']) expect([what, claims.take('b.yaml', [claim(what)]).length]).toEqual([what, 1])
  expect(claims.take('a.yaml', [claim('z')])).toEqual([])
  expect(claims.take('b.yaml', [claim('x'), claim('y')])).toEqual([])
  expect(claims.take('c.yaml', [claim('z')])).toHaveLength(1)
})

it('a house claims its tally, its client ids and its topics at each address of its broker', () => {
  const register = registerOf()
  const broker = { mqtt: 'mqtt://broker.lan', websocket: 'ws://broker.lan:9001' }
  const all = claimsOf('dye', { ...register, broker }).map(({ what, at }) => `${what} at ${at}`)
  expect(all).toHaveLength(1 + 2 * (1 + 2 * register.openings.length))
  expect(all).toContain('the topic ropewalk/w01 at broker.lan:1883')
  expect(claimsOf('dye', { ...register, broker: {} }).map(({ what }) => what)).toEqual(['the name dye'])
})

it('each clash of a folder is found once at each of both files, and names both lines', () => {
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
  const [one, other] = [`rope.yaml:${line('W03')}`, `dye.yaml:${line('W01')}`]
  const rest = 'both have the client id ropewalkw01 at broker.lan:1883: a broker keeps one of two clients with one id'
  expect(told).toEqual(expect.arrayContaining([`${one} and ${other} ${rest}`, `${other} and ${one} ${rest}`]))
  expect(told).toHaveLength(2 * (1 + 1 + 2 * dye.openings.length))
})

it('a tally can be had once nothing of another house is inside', () => {
  const [inner, outer] = [claimsOf('dye', house('rope/tally', 'rope/w01')), claimsOf('rope', house('rope', 'w01'))]
  const claims = new Claims()
  claims.take('dye.yaml', inner)
  expect(claims.take('rope.yaml', outer).map(({ held }) => held.what)).toEqual(['the tally rope/tally'])
  claims.take('dye.yaml', claimsOf('dye', house('dye', 'rope/w01')))
  expect(claims.take('rope.yaml', outer).map(({ held }) => held.what)).toEqual(['the topic rope/w01'])
  claims.release('dye.yaml')
  expect(claims.take('rope.yaml', outer)).toEqual([])
  expect(claims.take('dye.yaml', inner)).toHaveLength(2)
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

const house = (tally: string, topic: string, homieDomain = 'homie') => ({
  ...registerOf(
    HOUSE.replace('tally: ropewalk/tally', `tally: ${tally}`)
      .split('\n')
      .filter(line => !/mark: (W0[2-9]|D)/.test(line))
      .join('\n')
      .replace('mark: W01,', `mark: W01, topic: ${topic}, client: ${topic.replace(/\W/g, '')},`),
  ),
  homieDomain,
})

it('what lies inside the tally of another house is refused, whichever came first, with both lines', () => {
  const [rope, dye] = [house('rope', 'w01'), house('rope/tally', 'dye/w01')]
  const told = (...files: readonly (readonly [string, ReturnType<typeof house>])[]) =>
    [...clashesOf(new Map(files))].flatMap(([file, all]) => all.map(clash => clashSentence(file, clash)))
  const nested = (inner: string, place: string) =>
    `${place} has ${inner} inside the tally rope of h/rope.yaml at broker.lan:1883: accounts of a tally reach all topics below it; give each house topics of its own`
  const tally = nested('the tally rope/tally', 'h/dye.yaml')
  expect(told(['h/rope.yaml', rope], ['h/dye.yaml', dye])).toEqual([tally, tally])
  expect(told(['h/dye.yaml', dye], ['h/rope.yaml', rope])).toEqual([tally, tally])
  const loft = house('loft/tally', 'rope/w01')
  const line = HOUSE.split('\n').findIndex(each => each.includes('W01')) + 1
  const topic = nested('the topic rope/w01', `h/loft.yaml:${line}`)
  expect(told(['h/rope.yaml', rope], ['h/loft.yaml', loft])).toEqual([topic, topic])
  expect(told(['h/loft.yaml', loft], ['h/rope.yaml', rope])).toEqual([topic, topic])
  expect(told(['h/rope.yaml', rope], ['h/ropes.yaml', house('ropes', 'ropes-w01')])).toEqual([])
})

it('two files of one name are told without their folder', () => {
  const files = new Map([
    ['h/dye.yaml', house('dye', 'w01')],
    ['h/dye.yml', house('vat', 'w02')],
  ])
  const told = [...clashesOf(files)].flatMap(([file, all]) => all.map(clash => clashSentence(file, clash)))
  expect(told).toEqual([
    'h/dye.yaml and h/dye.yml both have the name dye: one keeper a house',
    'h/dye.yml and h/dye.yaml both have the name dye: one keeper a house',
  ])
})

/** Whether a topic can match both filters, by the wildcards of MQTT 5, 4.7.1: `a/#` takes in `a` too. */
const meet = (one: readonly string[], other: readonly string[]): boolean => {
  const [[a, ...below], [b, ...beside]] = [one, other]
  if (a === '#' || b === '#') return true
  if (a === undefined || b === undefined) return a === b
  return (a === b || a === '+' || b === '+') && meet(below, beside)
}

it.each([
  ['a/#', 'a', true],
  ['a/#', 'a/b/c', true],
  ['a/#', 'ab', false],
  ['homie/5/+/$state', 'homie/5/w01/#', true],
  ['homie/5/+/$state', 'homie/5/+/$description', false],
  ['a/say/+', 'a/say', false],
  ['a/say/+', 'a/+/W01', true],
])('%s and %s: whether a topic matches both is %s', (one, other, both) => {
  expect([meet(one.split('/'), other.split('/')), meet(other.split('/'), one.split('/'))]).toEqual([both, both])
})

it('houses that do not clash have no account that reads or writes a topic of the other', () => {
  const tallies = ['a', 'a/b', 'a/b/c', 'ab', 'homie', 'homie/5/b']
  const houses = tallies.flatMap(tally => [
    house(tally, 'x/a'),
    house(tally, tally === 'a' ? 'y/b' : 'a/b/w'.replace(`${tally}/`, 'z/')),
    house(tally, tally.startsWith('homie') ? 'z/w' : 'homie/5/w', 'b'),
  ])
  let separate = 0
  for (const one of houses)
    for (const other of houses) {
      const both = new Map([
        ['one.yaml', one],
        ['other.yaml', other],
      ])
      if ([...clashesOf(both).values()].some(all => all.length > 0)) continue
      separate++
      const [mine, others] = sharing(both).map(house => accounts(both.get(house.name)!, house))
      const filtersOf = (all: typeof mine) => all!.flatMap(({ reads, writes }) => [...reads, ...writes])
      const shared = filtersOf(mine).flatMap(filter =>
        filtersOf(others).flatMap(other =>
          meet(filter.split('/'), other.split('/')) ? [`${filter} and ${other}`] : [],
        ),
      )
      expect(shared).toEqual([])
    }
  expect(separate).toBeGreaterThan(20)
})
