import { expect, test } from 'vitest'
import {
  brokerOf,
  derivedClient,
  derivedTopic,
  isInside,
  isLoopback,
  isPortableClient,
  topicFault,
  utf8Length,
} from '../../src/register/topics.ts'

// MQTT 3.1.1 and 5.0 (OASIS), section 4.7: statement numbers stand in the sentences.
test.each([
  ['', 'topic-empty', 'MQTT-4.7.3-1'],
  ['a\0b', 'topic-character', 'MQTT-4.7.3-2'],
  ['a'.repeat(65_536), 'topic-long', 'MQTT-4.7.3-3'],
  ['ä'.repeat(32_768), 'topic-long', 'MQTT-4.7.3-3'],
  ['sport/+', 'topic-wildcard', 'MQTT-4.7.1-1'],
  ['sport/#', 'topic-wildcard', 'MQTT-4.7.1-1'],
  ['sport+', 'topic-wildcard', 'MQTT-3.3.2-2'],
  ['$SYS/x', 'topic-dollar', 'MQTT-4.7.2-1'],
  ['a\ud800', 'topic-character', 'MQTT-1.5.3-1'],
])('%.20s is no topic of a contact', (topic, code, statement) => {
  expect(topicFault(topic)).toMatchObject({ code, says: expect.stringContaining(statement) })
})

// Control characters as section 1.5.3 lists them (in 5.0: 1.5.4). Blanks at the ends are good for MQTT; mosquitto.conf(5)
// has a line a topic, and its reader drops them.
test.each([
  ...['a\nuser eve', 'a\u0001', 'a\u001F', 'a\u007F', 'a\u0080', 'a\u009F'].map(topic => [topic, 'topic-character']),
  ...[' a', 'a ', 'a\u3000', ' '].map(topic => [topic, 'topic-blank']),
])('%j is no topic that an access list can hold', (topic, code) => {
  expect(topicFault(topic!)).toMatchObject({ code })
})

// Examples of section 4.7: spaces, a leading slash, a lone slash and empty levels are all good names.
test.each(['/finance', '/', 'Accounts payable', 'a//b', 'a$b', 'ropewalk/fenêtre', 'a'.repeat(65_535)])(
  '%.20s is a topic',
  topic => expect(topicFault(topic)).toBeUndefined(),
)

test('length in UTF-8 is what the encoder gives', () => {
  for (const text of ['', 'abc', 'ä', '窓', '🪟', 'a\u0000z', '窓🪟ä'])
    expect(utf8Length(text)).toBe(new TextEncoder().encode(text).length)
})

// MQTT-3.1.3-5.
test.each([
  ['a', true],
  ['0123456789abcXYZ0123456', true],
  ['0123456789abcXYZ01234567', false],
  ['', false],
  ['a-b', false],
  ['ä', false],
])('whether every broker must take the client id %s', (client, sure) => expect(isPortableClient(client)).toBe(sure))

test.each([
  ['ropewalk/tally', 'W01', 'ropewalk/w01', 'ropewalkw01'],
  ['tally', 'W01', 'w01', 'w01'],
  ['a/b/tally', 'D-2', 'a/b/d-2', 'abd2'],
  ['/tally', 'W01', '/w01', 'w01'],
  ['Größe/tally', 'W01', 'Größe/w01', 'Grew01'],
])('under %s the mark %s gives %s and %s', (tally, mark, topic, client) => {
  expect([derivedTopic(tally, mark), derivedClient(tally, mark)]).toEqual([topic, client])
})

test('inside the tally is the tally and what lies beneath it', () => {
  expect(['a/t', 'a/t/x', 'a/tx', 'a', 'A/t'].map(topic => isInside(topic, 'a/t'))).toEqual([
    true,
    true,
    false,
    false,
    false,
  ])
})

test.each([
  ['mqtt://broker.lan', { host: 'broker.lan', port: 1883, tls: false, path: '' }],
  ['mqtts://broker.lan', { host: 'broker.lan', port: 8883, tls: true, path: '' }],
  ['wss://Broker.LAN/mqtt', { host: 'broker.lan', port: 443, tls: true, path: '/mqtt' }],
  ['mqtt://[fe80::1]:1884', { host: '[fe80::1]', port: 1884, tls: false, path: '' }],
  ['mqtt://a:0', undefined],
  ['mqtt://a:65536', undefined],
  ['mqtt://u@a', undefined],
  ['mqtt://', undefined],
  ['broker.lan', undefined],
])('the address %s', (address, parts) => expect(brokerOf(address)).toEqual(parts))

test('loopback has many names', () => {
  expect(
    ['localhost', '127.0.0.1', '127.9.9.9', '[::1]', 'broker.localhost', '128.0.0.1', 'localhost.lan'].map(isLoopback),
  ).toEqual([true, true, true, true, true, false, false])
})
