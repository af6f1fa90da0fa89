import { describe, expect, test } from 'vitest'
import { pointerOf, pointerParts, pointerUnder, valueAtPointer } from '../../src/text/json-pointer.ts'

// RFC 6901, section 5: the document and every pointer of the published table.
describe('JSON Pointer, RFC 6901 section 5', () => {
  const document = {
    foo: ['bar', 'baz'],
    '': 0,
    'a/b': 1,
    'c%d': 2,
    'e^f': 3,
    'g|h': 4,
    'i\\j': 5,
    'k"l': 6,
    ' ': 7,
    'm~n': 8,
  }
  test.each([
    ['', document],
    ['/foo', ['bar', 'baz']],
    ['/foo/0', 'bar'],
    ['/', 0],
    ['/a~1b', 1],
    ['/c%d', 2],
    ['/e^f', 3],
    ['/g|h', 4],
    ['/i\\j', 5],
    ['/k"l', 6],
    ['/ ', 7],
    ['/m~0n', 8],
  ])('%s', (pointer, value) => expect(valueAtPointer(document, pointer)).toEqual(value))
  test('what is not there is undefined, members of prototypes too', () => {
    for (const pointer of ['/no', '/foo/2', '/foo/00', '/foo/length', '/constructor', '/__proto__/x']) {
      expect(valueAtPointer(document, pointer)).toBeUndefined()
    }
  })
})

test('parts and pointers are each other’s opposite, and what is no pointer has no parts', () => {
  for (const parts of [[], [''], ['a/b', 'm~n', '~1', '0'], ['ü', ' ']])
    expect(pointerParts(pointerOf(parts))).toEqual(parts)
  expect(pointerUnder(pointerOf(['a']), 'b/c')).toBe('/a/b~1c')
  for (const text of ['a', 'a/b', '/~', '/~2', '#/a']) expect(pointerParts(text)).toBeUndefined()
})
