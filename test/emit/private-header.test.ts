import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { cString, cText } from '../../src/emit/firmware/c-text.ts'
import {
  fillPrivate,
  macroOf,
  ownedPrivate,
  privateHeader,
  privateMacros,
  privatePasswords,
  privateTally,
} from '../../src/emit/firmware/private-header.ts'
import { registerOf, ropewalk } from './houses.ts'

const register = ropewalk()
const template = privateHeader(register)
const marks = register.openings.map(({ mark }) => mark)

describe('the private header as it is written once', () => {
  test('has one line for every mark, and holds nothing but whose it is', () => {
    for (const mark of marks) expect(template).toContain(`\n/* #define PRIVATE_PASSWORD_${mark} "" */\n`)
    expect([...privateMacros(template)]).toEqual([['PRIVATE_TALLY', '"ropewalk/tally"']])
  })
  test('asks for the network only where the register does not name it', () => {
    const named = registerOf(`house: A
timezone: UTC
tally: a/tally
wifi: { name: Yard }
senders: { coin: { reports: openings, cell: CR2032, words: { opened: o, rest: asleep } } }
openings: [{ mark: D-2, name: A, sender: coin }]
`)
    expect(template).toContain('PRIVATE_WIFI_NAME')
    expect(privateHeader(named)).not.toContain('PRIVATE_WIFI_NAME')
    expect(privateHeader(named)).toContain('PRIVATE_PASSWORD_D_2')
    // No broker in the register: its address is private too.
    expect(privateHeader(named)).toContain('CONTACT_BROKER_HOST')
    expect(template).not.toContain('CONTACT_BROKER_HOST')
  })
})

test('says of which house it is, whatever the tally is called; an older one can be told to', () => {
  expect(privateTally(template)).toBe('ropewalk/tally')
  const older = template.replace(/^#define PRIVATE_TALLY.*\n/m, '')
  expect(privateTally(older)).toBeUndefined()
  fc.assert(
    fc.property(fc.string({ minLength: 1, unit: 'grapheme' }), tally => {
      const owned = ownedPrivate(older, tally)
      expect(privateTally(owned)).toBe(tally)
      expect(ownedPrivate(owned, `${tally}/other`)).toBe(owned)
      expect(owned.replace(/^#define PRIVATE_TALLY.*\n/m, '')).toBe(older)
    }),
  )
})

describe('filling it in', () => {
  const filled = fillPrivate(
    template,
    new Map([
      ['W07', 'sesame'],
      ['D01', 'a"b\\c?'],
    ]),
  )
  test('changes the lines of those contacts and no other byte', () => {
    const [before, after] = [template.split('\n'), filled.split('\n')]
    expect(after).toHaveLength(before.length)
    const changed = after.filter((line, index) => line !== before[index])
    expect(changed).toEqual(['#define PRIVATE_PASSWORD_D01 "a\\"b\\\\c\\?"', '#define PRIVATE_PASSWORD_W07 "sesame"'])
  })
  test('a password that is there is renewed in its place', () => {
    const again = fillPrivate(filled, new Map([['W07', 'open']]))
    expect(again).toBe(filled.replace('"sesame"', '"open"'))
  })
  test('a line that a person wrote below the empty one is renewed, and the empty one stays empty', () => {
    const own = template.replace(
      '/* #define PRIVATE_PASSWORD_W07 "" */\n',
      line => `${line}#define PRIVATE_PASSWORD_W07 "old"\n`,
    )
    expect(own).not.toBe(template)
    const renewed = fillPrivate(own, new Map([['W07', 'open']]))
    expect(renewed).toBe(own.replace('"old"', '"open"'))
    expect(privatePasswords(renewed, ['W07']).contacts.get('W07')).toBe('"open"')
  })
  test.each([
    ['CRLF', filled.replaceAll('\n', '\r\n')],
    [
      'a person’s own lines',
      filled.replace('#endif', '#define MINE 1\n  #  define  PRIVATE_PASSWORD_W07 "x" /* own */\n#endif'),
    ],
  ])('%s stays as it was', (_, text) => {
    const after = fillPrivate(text, new Map([['W08', 'new']]))
    expect(after).toBe(text.replace('/* #define PRIVATE_PASSWORD_W08 "" */', '#define PRIVATE_PASSWORD_W08 "new"'))
  })
  test('a mark that has no line gets one after the others, or before the last #endif', () => {
    expect(fillPrivate(filled, new Map([['W99', 'x']]))).toBe(
      filled.replace(
        '/* #define PRIVATE_PASSWORD_W23 "" */\n',
        '/* #define PRIVATE_PASSWORD_W23 "" */\n#define PRIVATE_PASSWORD_W99 "x"\n',
      ),
    )
    expect(fillPrivate('#ifndef A\n#if 1\n#endif\n#endif\n', new Map([['W99', 'x']]))).toBe(
      '#ifndef A\n#if 1\n#endif\n#define PRIVATE_PASSWORD_W99 "x"\n#endif\n',
    )
    expect(() => fillPrivate('nothing\n', new Map([['W99', 'x']]))).toThrow(/no #endif/)
  })
  test('what was filled in is read back, whatever the password', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }).filter(text => !/[\0\p{Cs}]/u.test(text)),
        password => {
          const made = fillPrivate(template, new Map([['W01', password]]))
          expect([...privatePasswords(made, marks).contacts.keys()]).toEqual(['W01'])
          expect(fillPrivate(made, new Map([['W01', 'y']]))).toBe(fillPrivate(template, new Map([['W01', 'y']])))
        },
      ),
    )
  })
  test('a C literal is the text that it was made of; what a person may write is read too', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary' }).filter(text => !/\p{Cs}/u.test(text)),
        text => {
          expect(cText(cString(text))).toBe(text)
        },
      ),
    )
    // ISO/IEC 9899:1999, 6.4.4.4: simple, octal and hexadecimal escapes.
    expect(cText(String.raw`"a\tb\x41\101\0é\'\q"`)).toBe("a\tbAA\0é'q")
  })
  test('the network’s password is read where it stands, an empty one for an open network too', () => {
    const open = template.replace('/* #define PRIVATE_WIFI_PASSWORD "" */', '#define PRIVATE_WIFI_PASSWORD ""')
    expect(privatePasswords(open, marks).network).toBe('""')
    expect(privatePasswords(template, marks).network).toBeUndefined()
  })
  test('marks that differ have macros that differ', () => {
    expect(['D-2', 'w07'].map(macroOf)).toEqual(['D_2', 'W07'])
  })
})
