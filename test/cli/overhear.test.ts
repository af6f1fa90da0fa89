import { describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { type Contact, contactFacts, wake } from '../../src/cli/contact.ts'
import { guessFrom, type Overheard, proposalText } from '../../src/cli/overhear-guess.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { registerOf } from '../emit/houses.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

/** `0 opened, 6 asleep R, K asleep`: seconds and word; R kept by the publisher's wish, K a copy at the start. */
const heard = (topic: string, short: string): Overheard[] =>
  short.split(', ').map(one => {
    const [when = '', text = '', flag] = one.split(' ')
    return {
      topic,
      at: when === 'K' ? 0 : Number(when) * 1000,
      text,
      retained: when === 'K' || flag === 'R',
      kept: when === 'K',
    }
  })
const one = (short: string) => {
  const { proposals, unclear } = guessFrom(heard('house/w01', short))
  return proposals[0] ?? unclear[0]
}

describe('what was overheard', () => {
  test('a passing word and a kept one after 1.5 keep-alives is a contact that reports openings', () => {
    expect(one('K asleep, 10 opened, 16.2 asleep R, 90 opened, 97 asleep R')).toMatchObject({
      mark: 'W01',
      reports: 'openings',
      words: { opened: 'opened', rest: 'asleep' },
      keepAliveSeconds: 4,
      because: expect.stringMatching(/2 times.*6\.2 s later.*keep-alive may be 1 to 4/),
    })
  })
  test('kept words only are both edges; the one that came least is gone', () => {
    expect(one('K shut, 10 ajar R, 20 shut R, 30 ajar R, 40 lost R, 50 shut R')).toMatchObject({
      reports: 'both',
      words: { opened: 'ajar', closed: 'shut', gone: 'lost' },
    })
    expect(one('K shut, 10 ajar R')).toMatchObject({
      reports: 'both',
      because: expect.stringMatching(/a guess.*made up/),
    })
  })
  test('JSON payloads: the word is found', () => {
    const json = (word: string, n: number) => `{"say":"${word}","n":${n}}`
    const guess = guessFrom([
      { topic: 'h/1', at: 0, text: json('opened', 1), retained: false, kept: false },
      { topic: 'h/1', at: 6000, text: json('asleep', 0), retained: true, kept: false },
    ])
    expect(guess.proposals[0]).toMatchObject({ wordPointer: '/say', words: { opened: 'opened', rest: 'asleep' } })
  })
  test.each([
    ['K asleep', /only the kept word/],
    ['1 opened, 9 opened', /no retained last will/],
    ['1 20.1, 2 20.2, 3 20.3, 4 20.4, 5 20.5', /5 different things/],
  ])('%s is not understood, and said so', (short, why) => {
    expect(one(short)).toMatchObject({ why: expect.stringMatching(why) })
  })
  test('the proposal is a register that parses, whatever was said', () => {
    const nasty = guessFrom([
      ...heard('a/"x"\n#', '0 op"en, 6 re\\st R'),
      ...heard('b/ünï', '0 opened, 6 asleep R'),
      ...heard('c/x', 'K k'),
    ])
    const { register, problems } = parseRegister(proposalText(nasty, 'mqtt://broker.lan'))
    expect(problems.filter(({ severity, code }) => severity === 'error' && code !== 'topic-wildcard')).toEqual([])
    expect(register === undefined || register.openings.length === 2).toBe(true)
  })
})

describe(haveMosquitto.title('overhear'), { skip: haveMosquitto.skip, timeout: 30_000 }, () => {
  test('proposes the contacts that spoke on a real broker', async () => {
    const broker = await Mosquitto.start()
    const contacts: Contact[] = []
    try {
      const house = registerOf(`house: Ropewalk Studios
timezone: Europe/Lisbon
tally: house/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 1 }
openings: [{ mark: W01, name: Dye room, sender: coin }]
`)
      const world = fakeWorld()
      const listening = cli(['overhear', '--broker', broker.mqttUrl, '--topic', 'house/#', '--minutes', '0.2'], world)
      await until('it to listen', () => world.said.stderr.includes('Listening'))
      contacts.push(await wake(contactFacts(house.openings[0]!), { host: '127.0.0.1', port: broker.mqttPort }))
      expect(await listening).toBe(0)
      const { register } = parseRegister(world.said.stdout)
      expect(register?.openings.map(({ mark, topic, sender }) => [mark, topic, sender.reports, sender.words])).toEqual([
        ['W01', 'house/w01', 'openings', { opened: 'opened', rest: 'asleep' }],
      ])
    } finally {
      for (const contact of contacts) contact.drop()
      await broker.close()
    }
  })
  test('wrong use', async () => {
    expect(await cli(['overhear'], fakeWorld())).toBe(2)
    expect(await cli(['overhear', '--broker', 'here', '--topic', '#'], fakeWorld())).toBe(2)
    expect(await cli(['overhear', '--broker', 'mqtt://h', '--topic', '#', '--out', 'README.md'], fakeWorld())).toBe(1)
  })
})
