import { expect, it } from 'vitest'
import { brokerNamed, Claims } from '../../src/keeper/houses/claims.ts'

it('what one file has no other gets, until it lets go', () => {
  const claims = new Claims()
  expect(claims.take('a.yaml', ['the tally x', 'the name a'])).toBeUndefined()
  expect(claims.take('b.yaml', ['the name b', 'the tally x'])).toEqual({ what: 'the tally x', holder: 'a.yaml' })
  expect(claims.take('c.yaml', ['the name b'])).toBeUndefined()
  claims.release('a.yaml')
  claims.release('c.yaml')
  expect(claims.take('b.yaml', ['the name b', 'the tally x'])).toBeUndefined()
})

it('a file that wants something else lets go of what it had', () => {
  const claims = new Claims()
  claims.take('a.yaml', ['the tally x'])
  claims.take('a.yaml', ['the tally y'])
  expect(claims.take('b.yaml', ['the tally x'])).toBeUndefined()
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
