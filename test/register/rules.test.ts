import { describe, expect, test } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import { found, sound, written } from './written.ts'

const W01 = '  - { mark: W01, name: A, sender: coin }'
const sender = (body: string): string => written({ senders: `  coin: { ${body} }` })
const opening = (more: string): string => written({ openings: `  - { mark: W01, name: A, sender: coin, ${more} }` })
const openings = (...lines: string[]): string => written({ openings: lines.map(line => `  - { ${line} }`).join('\n') })
const messagesOf = (text: string): string[] => parseRegister(text).problems.map(problem => problem.message)

const COIN = 'reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }'
const BOTH = 'reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }'

describe('house', () => {
  test.each([
    ['an unknown time zone', written().replace('Lisbon', 'Lisboa'), ['timezone Europe/Lisboa']],
    ['an offset is no time zone', written().replace('Europe/Lisbon', "'+01:00'"), ["timezone '+01:00'"]],
    ['a tally that ends with a slash', written({ tally: 'a/tally/' }), ['tally-slash a/tally/']],
    ['a wildcard in tally', written({ tally: 'a/+' }), ['topic-wildcard a/+']],
    [
      'a broker of another scheme',
      written({ head: "broker: { mqtt: 'http://broker.lan' }" }),
      ["broker 'http://broker.lan'"],
    ],
    ['a web address as mqtt', written({ head: "broker: { mqtt: 'ws://broker.lan' }" }), ["broker 'ws://broker.lan'"]],
    ['the nodes of a cluster', written({ head: `broker: { mqtt: [mqtt://a.lan, 'mqtt://b.lan:1884'] }` }), []],
    ['no node', written({ head: 'broker: { mqtt: [] }' }), ['broker-list []']],
    [
      'nodes, of which two cannot be',
      written({ head: "broker: { mqtt: [mqtt://a.lan, 'mqtt://u:p@b.lan', 7, mqtt://192.168.7.2] }" }),
      ["secret 'mqtt://u:p@b.lan'", 'unquoted 7', '?broker-address mqtt://192.168.7.2'],
    ],
    [
      'a node twice, and one with TLS among others without',
      written({ head: 'broker: { websocket: [ws://a.lan, ws://a.lan, wss://b.lan] }' }),
      ['broker-list ws://a.lan', 'broker-list wss://b.lan'],
    ],
    ['a map for an address', written({ head: 'broker: { mqtt: { host: a } }' }), ['text { host: a }']],
    [
      'a host that cannot be',
      written({ head: "broker: { mqtt: 'mqtt://h^ost:1883' }" }),
      ["broker 'mqtt://h^ost:1883'"],
    ],
    [
      'digits that are no address',
      written({ head: 'broker: { websocket: ws://1.2.3.999 }' }),
      ['broker ws://1.2.3.999'],
    ],
    ['a port that cannot be', written({ head: "broker: { mqtt: 'mqtt://b:70000' }" }), ["broker 'mqtt://b:70000'"]],
    ['a password in an address', written({ head: "broker: { mqtt: 'mqtt://u:p@b' }" }), ["secret 'mqtt://u:p@b'"]],
    ['a password', written({ head: 'password: hunter' }), ['secret password']],
    [
      'an address baked in',
      written({ head: "broker: { mqtt: 'mqtt://192.168.7.2' }" }),
      ["?broker-address 'mqtt://192.168.7.2'"],
    ],
    ['loopback is left to those who make headers', written({ head: "broker: { mqtt: 'mqtt://127.0.0.1' }" }), []],
    ['a side twice', written({ head: 'sides: [south, south]' }), ['side-twice south']],
    ['an unknown roof', written({ head: 'roof: gabel' }), ['choice gabel']],
    [
      'alerts with a time that is none, a password in the address, and a wrong key',
      written({ head: "alerts: { bedtime: '24:00', to: 'http://u:p@hub.lan/', openlong: 3 }" }),
      ["bedtime '24:00'", "alerts-to 'http://u:p@hub.lan/'", 'unknown-key openlong'],
    ],
    [
      'alerts that go elsewhere than HTTP',
      written({ head: 'alerts: { to: ftp://hub.lan }' }),
      ['alerts-to ftp://hub.lan'],
    ],
    [
      'alerts that go to a port that none is',
      written({ head: "alerts: { to: 'http://hub.lan:99999/alerts' }" }),
      ["alerts-to 'http://hub.lan:99999/alerts'"],
    ],
    ['alerts that go to an IPv6 address', written({ head: "alerts: { to: 'http://[fd00::1]:65535?a' }" }), []],
    [
      'alerts as the page shows them',
      written({ head: "alerts: { bedtime: '22:30', openLongMinutes: 240, to: 'https://[::1]:8099/a?b=c' }" }),
      [],
    ],
    ['a homieDomain of two levels', written({ head: 'homieDomain: a/b' }), ['homie-domain a/b']],
    ['alerts that ask for nothing more', written({ head: 'alerts: {}' }), []],
    ['no openings yet', written({ openings: '  []' }), ['?no-openings openings']],
    ['a price that is none', written({ head: 'prices: { reed: cheap }' }), ['number cheap']],
  ])('%s', (_, text, problems) => expect(found(text)).toEqual(problems))
})

describe('senders', () => {
  test.each([
    ['a cell together with power', sender(`${COIN}, power: mains`), ['cell-and-power power']],
    ['neither cell nor power', sender(COIN.replace('cell: CR2032, ', '')), ['no-power coin']],
    ['a cell with no figures', sender(COIN.replace('CR2032', 'CR2023')), ['?cell-unknown CR2023']],
    ['a missing word', sender(COIN.replace(', rest: asleep', '')), ['words-missing words']],
    ['missing words', sender(COIN.replace(', words: { opened: opened, rest: asleep }', '')), ['missing coin']],
    ['a word of the other kind', sender(BOTH.replace('gone: lost', 'gone: lost, rest: asleep')), ['word-unused rest']],
    ['equal words', sender(COIN.replace('asleep', 'opened')), ['words-equal opened']],
    ['words that differ by spaces only', sender(COIN.replace('asleep', "'opened '")), ["words-equal 'opened '"]],
    ['QoS 0', sender(`${COIN}, qos: 0`), ['?qos-0 0']],
    ['QoS 3', sender(`${COIN}, qos: 3`), ['choice 3']],
    ['a keep-alive of 0', sender(`${COIN}, keepAliveSeconds: 0`), ['number 0']],
    ['a load on mains', sender(`${BOTH}, load: cold-join`), ['?load-on-mains load']],
    ['an unknown load', sender(`${COIN}, load: cold-joint`), ['choice cold-joint']],
    ['a load of no phases', sender(`${COIN}, load: []`), ['load []']],
    ['a phase without a time', sender(`${COIN}, load: [{ milliamps: 3 }]`), ['missing { milliamps: 3 }']],
    [
      'bursts that overlap',
      sender(
        `${COIN}, load: [{ milliamps: 3, milliseconds: 90, burst: { milliamps: 9, milliseconds: 5, everyMilliseconds: 2 } }]`,
      ),
      ['burst 5'],
    ],
    [
      'a load that draws next to nothing',
      sender(`${COIN}, load: [{ milliamps: 0, milliseconds: 9 }]`),
      ['load-charge [{ milliamps: 0, milliseconds: 9 }]'],
    ],
    [
      'more bursts than can be counted out',
      sender(
        `${COIN}, load: [{ milliamps: 3, milliseconds: 9000, burst: { milliamps: 9, milliseconds: 1, everyMilliseconds: 2 } }]`,
      ),
      ['bursts 2'],
    ],
    ['a JSON Pointer without its slash', sender(`${COIN}, json: { word: word }`), ['json-pointer word']],
    ['a JSON Pointer into another', sender(`${COIN}, json: { word: /a, boots: /a/b }`), ['json-pointer-inside /a/b']],
    ['a JSON Pointer around another', sender(`${COIN}, json: { word: /a/b, boots: /a }`), ['json-pointer-inside /a']],
    ['a whole payload beside its parts', sender(`${COIN}, json: { word: '', boots: /a }`), ['json-pointer-inside /a']],
    ['JSON Pointers side by side', sender(`${COIN}, json: { word: /a, boots: /ab }`), []],
    ['two equal JSON Pointers', sender(`${COIN}, json: { word: /a, boots: /a }`), ['json-pointer-twice /a']],
    ['a season without its July', sender(`${COIN}, seasonCelsius: { january: 3 }`), ['missing seasonCelsius']],
    ['a season that is one number', sender(`${COIN}, seasonCelsius: 8`), ['map 8']],
    ['a July too hot', sender(`${COIN}, seasonCelsius: { january: 3, july: 70 }`), ['number 70']],
    [
      'a season with a month that is not read',
      sender(`${COIN}, seasonCelsius: { january: 3, july: 7, may: 4 }`),
      ['unknown-key may'],
    ],
    [
      'a temperature beside a season',
      sender(`${COIN}, temperatureCelsius: 8, seasonCelsius: { january: 3, july: 20 }`),
      ['two-temperatures seasonCelsius'],
    ],
    ['repeats on a coin cell', sender(`${COIN}, repeatSeconds: 600`), ['?repeat-on-coin-cell repeatSeconds']],
    ['the name of the Wi-Fi under another key', sender(`${COIN}, wifi: { ssid: loft }`), ['secret ssid']],
    ['a password of the Wi-Fi', sender(`${COIN}, wifi: { name: loft, password: x }`), ['secret password']],
    // 32 octets at most: IEEE 802.11 (from memory)
    ['a network whose name has 32 bytes', sender(`${COIN}, wifi: { name: '${'é'.repeat(16)}' }`), []],
    [
      'a network whose name has 33 bytes',
      sender(`${COIN}, wifi: { name: '${'é'.repeat(16)}x' }`),
      [`network-name '${'é'.repeat(16)}x'`],
    ],
    ['a network without a name', sender(`${COIN}, wifi: { name: '' }`), ["network-name ''"]],
    ['an address with a leading zero', sender(`${COIN}, wifi: { address: 192.168.7.08 }`), ['ip-address 192.168.7.08']],
    ['an address', sender(`${COIN}, wifi: { address: 192.168.107.0 }`), []],
    ['a bssid of five pairs', sender(`${COIN}, wifi: { bssid: '02:00:5e:10:00' }`), ["bssid '02:00:5e:10:00'"]],
  ])('%s', (_, text, problems) => expect(found(text)).toEqual(problems))

  test.each(['closed', 'Shut', 'zu', "'no'", "'off'", "'0'", 'window closed', 'geschlossen', 'fermé', '关闭'])(
    'the rest word %s says closed, which only warns',
    word => expect(found(sender(COIN.replace('asleep', word)))).toEqual([`?rest-says-closed ${word}`]),
  )
  test.each(['asleep', 'quiet', 'disclosed', 'enclosure'])('the rest word %s says nothing of the window', word =>
    expect(found(sender(COIN.replace('asleep', word)))).toEqual([]),
  )
  test.each(['asleep', 'Lost', 'resting'])('the closed word %s reads like a last will, which only warns', word =>
    expect(found(sender(BOTH.replace('shut', word).replace('gone: lost', 'gone: missing')))).toEqual([
      `?closed-says-nothing ${word}`,
    ]),
  )
  test('repeats for the whole house warn once, and not for mains', () => {
    const text = written({ head: 'repeatSeconds: 600', openings: `${W01}\n  - { mark: W02, name: B, sender: coin }` })
    expect(found(text)).toEqual(['?repeat-on-coin-cell repeatSeconds'])
    expect(found(text.replace(/coin: \{.*\}$/m, `coin: { ${BOTH} }`))).toEqual([])
  })
})

describe('openings', () => {
  test.each([
    ['a mark of another form', openings('mark: W 1, name: A, sender: coin'), ['mark W 1']],
    [
      'a mark twice, whatever its case',
      openings('mark: W1, name: A, sender: coin', 'mark: w1, name: B, sender: coin'),
      ['mark-twice w1'],
    ],
    [
      'a topic twice',
      openings('mark: A, name: A, sender: coin, topic: x/y', 'mark: B, name: B, sender: coin, topic: x/y'),
      ['topic-twice x/y'],
    ],
    [
      'a written topic equal to a derived one',
      openings('mark: A, name: A, sender: coin', 'mark: B, name: B, sender: coin, topic: ropewalk/a'),
      ['topic-twice ropewalk/a'],
    ],
    [
      'a client id twice',
      openings('mark: A, name: A, sender: coin, client: x', 'mark: B, name: B, sender: coin, client: x'),
      ['client-id-twice x'],
    ],
    [
      'derived client ids that clash',
      openings('mark: W-1, name: A, sender: coin', 'mark: W1, name: B, sender: coin'),
      ['client-id-twice W1'],
    ],
    ['a contact inside the tally', opening('topic: ropewalk/tally/w01'), ['topic-in-tally ropewalk/tally/w01']],
    ['a contact on the tally itself', opening('topic: ropewalk/tally'), ['topic-in-tally ropewalk/tally']],
    ['a neighbour of the tally is fine', opening('topic: ropewalk/tallyho'), []],
    ['an unknown sender', written().replace('sender: coin }', 'sender: cion }'), ['sender-unknown cion']],
    [
      'a sender named like an object method',
      written().replace('sender: coin }', 'sender: toString }'),
      ['sender-unknown toString'],
    ],
    ['an unknown kind', opening('kind: dor'), ['choice dor']],
    ['no name', openings('mark: W01, sender: coin'), ['missing { mark: W01, sender: coin }']],
    ['a name with nothing in it', openings('mark: W01, name: , sender: coin'), ['empty name']],
    [
      'a side that sides lacks',
      written({
        head: 'sides: [south, north]',
        openings: '  - { mark: A, name: A, sender: coin, at: { side: noth } }',
      }),
      ['side noth'],
    ],
    [
      'a floor that floors lacks',
      written({ head: 'floors: 2', openings: '  - { mark: A, name: A, sender: coin, at: { side: s, floor: 2 } }' }),
      ['floor 2'],
    ],
    ['along beyond the wall', opening('at: { side: s, along: 1.2 }'), ['number 1.2']],
    [
      'an earlier mark in use',
      openings('mark: A, name: A, sender: coin', 'mark: B, name: B, sender: coin, was: [a]'),
      ['was-in-use a'],
    ],
    ['its own mark as an earlier one', opening('was: [W01]'), ['was-in-use W01']],
    [
      'an earlier mark of two openings',
      openings('mark: A, name: A, sender: coin, was: [C]', 'mark: B, name: B, sender: coin, was: [C]'),
      ['was-twice C'],
    ],
    ['a day that the calendar lacks', opening('cellFitted: 2026-02-29'), ['date 2026-02-29']],
    ['a leap day', opening('cellFitted: 2028-02-29'), []],
    ['a client id with spaces', opening('client: dye room'), ['?client-id-portable dye room']],
    ['a client id of 23', opening(`client: ${'a'.repeat(23)}`), []],
    ['a client id of 24', opening(`client: ${'a'.repeat(24)}`), [`?client-id-portable ${'a'.repeat(24)}`]],
    ['an empty client id', opening("client: ''"), ["client-id ''"]],
    ['an opening that is a word', written({ openings: '  - W01' }), ['map W01']],
    [
      'one fixed address for two',
      openings(
        'mark: A, name: A, sender: coin, wifi: { address: 10.0.0.7 }',
        'mark: B, name: B, sender: coin, wifi: { address: 10.0.0.7 }',
      ),
      ['?ip-address-twice 10.0.0.7'],
    ],
  ])('%s', (_, text, problems) => expect(found(text)).toEqual(problems))

  test('a cell on a mains contact is of no use', () => {
    const text = written({
      senders: `  coin: { ${BOTH} }`,
      openings: '  - { mark: A, name: A, sender: coin, cellFitted: 2026-01-01 }',
    })
    expect(found(text)).toEqual(['?cell-on-mains cellFitted'])
  })
})

describe('text that YAML takes for something else', () => {
  test.each(['007', '1e3', '0x1F', 'true', 'yes', 'No', 'ON'])('mark: %s must be quoted', mark => {
    const text = openings(`mark: ${mark}, name: A, sender: coin`)
    expect(found(text)).toEqual([`unquoted ${mark}`])
    expect(messagesOf(text)[0]).toContain(`write '${mark}' in quotes`)
    expect(sound(openings(`mark: '${mark}', name: A, sender: coin`)).openings[0]?.mark).toBe(mark)
  })
  test.each(['yes', 'off', 'y', 'N', '1', 'false'])('the word %s must be quoted', word => {
    expect(found(sender(COIN.replace('opened: opened', `opened: ${word}`)))).toEqual([`unquoted ${word}`])
    expect(found(sender(COIN.replace('opened: opened', `opened: "${word}"`)))).toEqual([])
  })
  test('a number in quotes says to take them away', () => {
    expect(messagesOf(opening("bounceSeconds: '5'"))[0]).toContain('take the quotes away')
  })
})

describe('unknown keys', () => {
  test.each([
    [written({ head: 'timezon: UTC' }), 'did you mean timezone?'],
    [sender(`${COIN}, keepAliveSecond: 4`), 'did you mean keepAliveSeconds?'],
    [opening('Topic: x'), 'did you mean topic?'],
    [opening('kidn: door'), 'did you mean kind?'],
    [opening('qos: 1'), 'it belongs to a sender'],
    [opening('at: { side: s, flor: 1 }'), 'did you mean floor?'],
    [sender(`${COIN}, load: [{ milliamp: 3, milliamps: 3, milliseconds: 100 }]`), 'did you mean milliamps?'],
    [opening('colour: red'), 'take it out, or use one of mark, name'],
    [opening('<<: { kind: door }'), 'Merge keys'],
  ])('%#: the nearest known one is named', (text, advice) => {
    const [problem] = parseRegister(text).problems
    expect(problem?.code).toBe('unknown-key')
    expect(problem?.message).toContain(advice)
  })
})

test('cross-checks run on what could be read where other lines fail', () => {
  const text = openings(
    'mark: W01, name: A, sender: coin, client: x, kind: dor',
    'mark: W02, name: 5, sender: coin, client: x, topic: ropewalk/w01',
    'mark: 3, name: C, sender: nobody',
  )
  expect(found(text)).toEqual([
    'choice dor',
    'unquoted 5',
    'client-id-twice x',
    'topic-twice ropewalk/w01',
    'unquoted 3',
    'sender-unknown nobody',
  ])
})

test('a YAML error does not hide what stands elsewhere, nor invent what is missing', () => {
  const text = openings(
    'mark: W01, name: A, sender: coin, client: x',
    'mark: W02, name: B, sender: coin, client: x',
    'mark: W03, name: "C',
  )
  const codes = parseRegister(text).problems.map(problem => problem.code)
  expect(codes).toContain('yaml')
  expect(codes).toContain('client-id-twice')
  expect(codes).not.toContain('missing')
})

test('warnings never block', () => {
  const { register, problems } = parseRegister(sender(`${COIN.replace('asleep', 'closed')}, qos: 0, repeatSeconds: 60`))
  expect(problems.map(problem => problem.severity)).toEqual(['warning', 'warning', 'warning'])
  expect(register?.openings).toHaveLength(1)
})
