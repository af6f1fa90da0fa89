import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { guessFrom } from '../../src/cli/begin/overhear-guess.ts'
import { type Overheard, OverheardLog } from '../../src/cli/begin/overhear-log.ts'
import { marksOf } from '../../src/cli/begin/overhear-marks.ts'
import { proposalText } from '../../src/cli/begin/overhear-text.ts'
import { parseRegister } from '../../src/register/parse.ts'

/** `0 opened, 6 asleep R, K asleep`: seconds and word; R kept by the publisher's wish, ? not known, K a copy at the start. */
const heard = (topic: string, short: string): Overheard[] =>
  short.split(', ').map(one => {
    const [when = '', text = '', flag] = one.split(' ')
    return {
      topic,
      at: when === 'K' ? 0 : Number(when) * 1000,
      text,
      retained: flag === '?' ? undefined : when === 'K' || flag === 'R',
      kept: when === 'K',
      stretch: 0,
    }
  })
const one = (short: string) => {
  const { proposals, unclear } = guessFrom(heard('house/w01', short))
  return proposals[0] ?? unclear[0]
}
const HOUSE = { broker: 'mqtt://broker.lan', timezone: 'Europe/Lisbon' }

describe('a contact that reports openings', () => {
  test('is a passing word and a kept one after 1.5 keep-alives', () => {
    expect(one('K asleep, 10 opened, 16.2 asleep R, 90 opened, 97 asleep R')).toMatchObject({
      mark: 'W01',
      reports: 'openings',
      words: { opened: 'opened', rest: 'asleep' },
      keepAlive: { seconds: 4, least: 1, most: 4 },
      because: expect.stringMatching(/2 times.*6\.2 to 7\.0 s later; the keep-alive may be 1 to 4/),
    })
  })
  test.each([
    // MQTT 3.1.1 and 5.0, 3.1.2.10: the server closes after one and a half times the keep-alive.
    ['0 o, 6 z R', 4, /may be 1 to 4/],
    ['0 o, 15 z R', 10, /may be 6 to 10/],
    ['0 o, 15 z R, 60 o, 75.1 z R, 100 o, 120.9 z R', 10, /keep-alive is 10/],
    ['0 o, 1.5 z R', 1, /keep-alive is 1/],
    ['0 o, 10 z R, 60 o, 90 z R', 7, /differ more than brokers do/],
  ])('%s: the keep-alive is told from the waits', (short, seconds, because) => {
    expect(one(short)).toMatchObject({ keepAlive: { seconds }, because: expect.stringMatching(because) })
  })
  test('a keep-alive fits whatever a broker adds to the wait', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 60 }),
        fc.array(fc.double({ min: -0.5, max: 6, noNaN: true }), { minLength: 1, maxLength: 5 }),
        (keepAlive, late) => {
          const short = late.map((more, n) => `${n * 1000} o, ${n * 1000 + 1.5 * keepAlive + more} z R`).join(', ')
          const { because } = one(short) as { because: string }
          const [, least, most = least] = /keep-alive (?:may be|is) (\d+)(?: to (\d+))?/.exec(because)!
          expect(Number(least)).toBeLessThanOrEqual(keepAlive)
          expect(Number(most)).toBeGreaterThanOrEqual(keepAlive)
        },
      ),
    )
  })
  test('a rest word that came at once is told, and no keep-alive made of it', () => {
    expect(one('0 o, 0.1 z R, 60 o, 66 z R')).toMatchObject({
      keepAlive: { seconds: 4 },
      because: expect.stringMatching(/once it came at once: .*two contacts with one client id/),
    })
    const at = one('0 o, 0.1 z R')
    expect(at).toMatchObject({ reports: 'openings', because: expect.stringMatching(/keep-alive cannot be told/) })
    expect(at).not.toHaveProperty('keepAlive')
  })
})

describe('a contact that reports both edges', () => {
  test('has kept words only; gone is the one without which the others take turns', () => {
    expect(one('0 ajar R, 20 shut R, 30 ajar R, 40 lost R, 50 ajar R, 60 lost R, 61 ajar R, 70 shut R')).toMatchObject({
      reports: 'both',
      words: { opened: 'ajar', closed: 'shut', gone: 'lost' },
      because: expect.stringMatching(/"shut" says closed; "lost" is taken as gone/),
    })
  })
  test('is told from an opened word that should not be kept by hands, which are not as even as a will', () => {
    expect(one('0 ajar R, 20 shut R, 60 ajar R, 140 shut R')).toMatchObject({
      words: { opened: 'ajar', closed: 'shut' },
      because: expect.stringMatching(/"shut" says closed.*made up/),
    })
    expect(one('0 ajar R, 6 shut R')).toMatchObject({ why: expect.stringMatching(/or a last will is not told/) })
    expect(one('0 ajar R, 6 shut R, 60 ajar R, 66 shut R')).toMatchObject({ why: expect.stringMatching(/last will/) })
  })
  test.each([
    'K asleep, 10 opened R',
    '0 opened R, 6 asleep R',
    '1 a R, 5 b R, 300 a R, 302 b R',
    '1 a R, 5 b R, 9 c R',
  ])('a rest word is never guessed to be closed: %s', short =>
    expect(one(short)).toMatchObject({ why: expect.stringMatching(/is closed cannot be told/) }),
  )
  test('which word is gone may be a guess, and is said to be one', () => {
    expect(one('1 a R, 5 shut R, 9 c R')).toMatchObject({
      words: { closed: 'shut', gone: 'c' },
      because: expect.stringMatching(/is gone is a guess/),
    })
  })
})

describe('what was overheard', () => {
  test('JSON payloads: the word is found among builds and counts, and the bare last will too', () => {
    const json = (word: string, n: number) => `{"build":"9f8e7d6c","say":"${word}","n":${n}}`
    const guess = guessFrom([
      { topic: 'h/1', at: 0, text: json('opened', 1), retained: false, kept: false, stretch: 0 },
      { topic: 'h/1', at: 6000, text: 'asleep', retained: true, kept: false, stretch: 0 },
    ])
    expect(guess.proposals[0]).toMatchObject({
      wordPointer: '/say',
      words: { opened: 'opened', rest: 'asleep' },
      because: expect.stringMatching(/what "\/n" count cannot be told/),
    })
  })
  test.each([
    ['K asleep', /only the kept word/],
    ['1 opened, 9 opened', /no retained last will/],
    ['1 opened, 7 asleep', /no retained last will/],
    ['1 asleep R', /one word is no contact/],
    ['1 opened ?, 7 asleep R', /could not be seen/],
    ['K asleep, 1 opened, 3 opened', /never one after the other/],
    ['0 o, 4000 z R', /too late for a last will/],
    ['0 o R, 6 z R, 60 o R, 66.1 z R, 90 o R, 96 z R', /as a last will does, but both are kept/],
    ['0 ajar, 6 shut, 20 lost R', /both edges want to be published retained/],
    ['1 20.1, 2 20.2, 3 20.3, 4 20.4, 5 20.5', /5 different things/],
  ])('%s is not understood, and said so', (short, why) => {
    expect(one(short)).toMatchObject({ why: expect.stringMatching(why) })
  })
  test('contacts with the same words are one kind: each narrows its keep-alive, and one that was not opened is like them', () => {
    const guess = guessFrom([
      ...heard('h/w01', '0 o, 12 z R'),
      ...heard('h/w02', '0 o, 6.5 z R'),
      ...heard('h/w03', 'K z'),
      ...heard('h/w04', 'K z, 5 o'),
      ...heard('h/w05', '9 z R'),
      ...heard('h/lamp', 'K on'),
    ])
    expect(guess.proposals.map(({ mark, keepAlive }) => [mark, keepAlive])).toEqual(
      ['W01', 'W02', 'W03', 'W04', 'W05'].map(mark => [
        mark,
        expect.objectContaining({ seconds: 4, least: 4, most: 4 }),
      ]),
    )
    expect(guess.proposals[2]?.because).toMatch(/only the kept word "z".*"h\/w01" says.*of its kind: a guess/)
    expect(guess.unclear.map(({ topic }) => topic)).toEqual(['h/lamp'])
  })
  test('one rest word that came too soon does not spoil the keep-alive of its kind', () => {
    const guess = guessFrom([
      ...heard('h/w01', '0 o, 6 z R'),
      ...heard('h/w02', '0 o, 6.1 z R'),
      ...heard('h/w03', '0 o, 1.1 z R, 50 o, 56 z R'),
    ])
    expect(new Set(guess.proposals.map(({ keepAlive }) => keepAlive?.seconds))).toEqual(new Set([4]))
  })
  test('two kinds that share a rest word: which of them it is, is left open', () => {
    const guess = guessFrom([
      ...heard('h/w01', '0 o, 6 z R'),
      ...heard('h/w02', '0 opened, 6 z R'),
      ...heard('h/w03', 'K z'),
    ])
    expect(guess.unclear).toMatchObject([{ topic: 'h/w03', why: expect.stringMatching(/"h\/w01" or "h\/w02"/) }])
  })
  test('words on either side of a broken link tell nothing of the wait', () => {
    const [opened, rest] = heard('h/w01', '0 o, 13 z R') as [Overheard, Overheard]
    expect(guessFrom([opened, { ...rest, stretch: 1 }]).unclear).toMatchObject([
      { why: expect.stringMatching(/never one after the other/) },
    ])
  })
  test('a keeper’s own tally is no contact', () => {
    const beat = '{"v":1,"state":"live","beat":"2026-11-25T21:47:00.000Z","since":"2026-11-25T21:40:00.000Z"}'
    const guess = guessFrom([
      { topic: 'h/tally/keeper', at: 0, text: beat, retained: true, kept: true, stretch: 0 },
      ...heard('h/tally/plain/W01', 'K closed, 5 may-be-open R'),
      ...heard('h/w01', '5 opened, 11 asleep R'),
    ])
    expect(guess.proposals.map(({ topic }) => topic)).toEqual(['h/w01'])
    expect(guess.tallies).toEqual(['h/tally'])
    expect(parseRegister(proposalText(guess, HOUSE)).register?.tally).toBe('h/tally')
  })
  test('marks come from the level that tells topics apart, and their client ids differ', () => {
    expect(marksOf(['house/w01', 'house/w02'])).toEqual(['W01', 'W02'])
    expect(marksOf(['house/dye room/contact', 'house/loft/contact'])).toEqual(['DYE-ROOM', 'LOFT'])
    expect(marksOf(['a-1', 'a1', 'ü'])).toEqual(['A-1', 'A1-2', 'X'])
  })
  test('any observations make a register that parses, with words and topics unchanged', () => {
    const word = fc.oneof(
      fc.constantFrom(
        'opened',
        'asleep',
        'shut',
        'lost',
        'yes',
        '007',
        '# b',
        "a'b",
        'op"en',
        're\\st',
        '\u2028',
        '{"w":"x"}',
      ),
      fc.string({ unit: 'binary', minLength: 1, maxLength: 20 }),
    )
    const topic = fc.oneof(
      fc.constantFrom(
        'house/w01',
        'house/tally',
        'house/tally/x',
        'a/"x"\n',
        '/',
        'b/ünï',
        'x/YES',
        'x/007',
        'h/#',
        '$SYS/x',
      ),
      fc.string({ unit: 'grapheme', minLength: 1, maxLength: 20 }),
    )
    const observed: fc.Arbitrary<Overheard[]> = fc
      .tuple(topic, fc.uniqueArray(word, { minLength: 2, maxLength: 3 }), fc.boolean(), fc.nat(9))
      .map(([where, [a = '', b = '', c], both, wait]) => [
        { topic: where, at: 0, text: a, retained: both, kept: false, stretch: 0 },
        { topic: where, at: wait * 1000, text: b, retained: true, kept: false, stretch: 0 },
        ...(both && c !== undefined
          ? [{ topic: where, at: 99_000, text: c, retained: true, kept: false, stretch: 0 }]
          : []),
      ])
    fc.assert(
      fc.property(fc.uniqueArray(observed, { maxLength: 6, selector: list => list[0]!.topic }), lists => {
        const guess = guessFrom(lists.flat())
        expect(guess.proposals.length + guess.unclear.length).toBe(lists.length)
        if (guess.proposals.length === 0) return
        const { register, problems } = parseRegister(proposalText(guess, HOUSE))
        expect(problems.filter(({ severity }) => severity === 'error')).toEqual([])
        expect(register?.openings.map(({ topic, sender: { words } }) => [topic, words])).toEqual(
          guess.proposals.map(({ topic, words, reports }) => [
            topic,
            reports === 'both' ? { gone: expect.any(String), ...words } : words,
          ]),
        )
      }),
      { numRuns: 300 },
    )
  })
})

describe('the log', () => {
  const bytes = (text: string) => new TextEncoder().encode(text)
  const short = (log: OverheardLog) => log.all().map(({ text, retained, kept }) => [text, retained, kept])

  test('copies that follow a link made anew are no words', () => {
    const log = new OverheardLog()
    log.live(0)
    log.hear('t', bytes('asleep'), true, 10)
    log.hear('t', bytes('opened'), false, 60_000)
    log.down()
    log.live(70_000)
    log.hear('t', bytes('asleep'), true, 70_010)
    log.hear('t', bytes('asleep'), true, 80_000)
    expect(short(log)).toEqual([
      ['asleep', true, true],
      ['opened', undefined, false],
      ['asleep', true, true],
      ['asleep', true, false],
    ])
    expect(log.counts).toEqual({ words: 2, topics: 1, dropped: 0, breaks: 1 })
  })
  test('a word is asked about until it is known; another word that came meanwhile leaves it open', () => {
    const log = new OverheardLog()
    log.live(0)
    log.hear('t', bytes('opened'), false, 10_000)
    const [asked] = log.doubtful(9)
    expect(asked).toEqual({ topic: 't', text: 'opened' })
    log.hear('t', bytes('asleep'), false, 11_000)
    log.learn(asked!, 'asleep', 11_100)
    expect(short(log)).toEqual([
      ['opened', undefined, false],
      ['asleep', true, false],
    ])
    expect(log.doubtful(9)).toEqual([])
    log.hear('t', bytes('opened'), false, 20_000)
    log.learn(log.doubtful(9)[0]!, 'asleep', 20_600)
    expect(log.doubtful(9)).toEqual([])
    expect(guessFrom(log.all()).unclear).toEqual([])
    expect(short(log).slice(0, 3)).toEqual([
      ['opened', false, false],
      ['asleep', true, false],
      ['opened', false, false],
    ])
  })
  test('a topic that says much is bounded and counted', () => {
    const log = new OverheardLog()
    log.live(0)
    for (let n = 0; n < 1000; n++) log.hear('t', bytes(String(n)), false, n)
    expect(log.all()).toHaveLength(400)
    expect(log.counts).toMatchObject({ words: 1000, dropped: 600 })
  })
})
