import { describe, expect, test } from 'vitest'
import { parseRegister } from '../../src/register/parse.ts'
import { found, underlined, written } from './written.ts'

const codes = (text: string): string[] => parseRegister(text).problems.map(problem => problem.code)

describe('a text that is no register gets one clear answer', () => {
  test.each([
    ['an empty file', '', 'empty'],
    ['a byte-order mark alone', '\uFEFF', 'empty'],
    ['comments only', '# soon\n', 'empty'],
    ['a list', '- { mark: W01 }\n', 'a list'],
    ['a word', 'hello\n', 'a single value'],
  ])('%s', (_, text, says) => {
    const { problems, register } = parseRegister(text)
    expect(register).toBeUndefined()
    expect(problems.map(problem => [problem.code, problem.line, problem.column])).toEqual([['no-register', 1, 1]])
    expect(problems[0]?.message).toContain(says)
  })
  test.each([
    ['10 MB', 'a'.repeat(10_000_000), 'too-long'],
    ['a binary file', 'house: a\0b\n', 'not-text'],
    ['half a character', 'house: \ud800\n', 'not-text'],
    ['line ends of CR alone', 'house: a\rtally: b\r', 'line-ends'],
  ])('%s', (_, text, code) => expect(codes(text)).toEqual([code]))
})

test('a tab as indent is named, where it stands', () => {
  const text = written({ openings: '\t- { mark: W01, name: A, sender: coin }' })
  const tab = parseRegister(text).problems.find(problem => problem.code === 'tab')
  expect(tab && [tab.line, tab.column, underlined(text, tab)]).toEqual([7, 1, '\t'])
})

test('a key that stands twice is named once, at its second place', () => {
  expect(found(written({ head: 'floors: 2\nfloors: 3' }))).toEqual(['duplicate-key floors'])
  expect(found(written({ openings: '  - { mark: A, name: A, mark: B, sender: coin }' }))).toEqual([
    'duplicate-key mark',
  ])
})

test('a second document is named where it begins', () => {
  const text = `${written()}---\nhouse: Other\n`
  const { problems, register } = parseRegister(text)
  expect(problems.map(problem => [problem.code, problem.line])).toEqual([['several-documents', 8]])
  expect(register).toBeUndefined()
  expect(codes(`---\n${written()}...\n`)).toEqual([])
})

test('keys that every object has cannot be names', () => {
  const before = Object.getOwnPropertyNames(Object.prototype)
  for (const key of ['__proto__', 'constructor', 'prototype']) {
    expect(found(written({ head: `${key}: { polluted: 1 }` }))).toEqual([`reserved-key ${key}`])
    expect(found(written({ openings: `  - { mark: A, name: A, sender: coin, ${key}: 1 }` }))).toEqual([
      `reserved-key ${key}`,
    ])
    expect(
      found(written({ senders: `  ${key}: { cell: CR2032 }`, openings: `  - { mark: A, name: A, sender: ${key} }` })),
    ).toEqual([`reserved-key ${key}`, `sender-unknown ${key}`])
  }
  expect(Object.getOwnPropertyNames(Object.prototype)).toEqual(before)
  expect({}).not.toHaveProperty('polluted')
})

test('an alias bomb is stopped', () => {
  const levels = 'bcdefghi'.split('')
  const bomb = ['a: &a [x, x, x, x, x, x, x, x, x, x]']
  for (const [index, name] of levels.entries()) {
    bomb.push(
      `${name}: &${name} [${Array(10)
        .fill(`*${index === 0 ? 'a' : levels[index - 1]}`)
        .join(', ')}]`,
    )
  }
  const start = process.cpuUsage()
  expect(codes(`${bomb.join('\n')}\n`)).toContain('too-many-aliases')
  expect(process.cpuUsage(start).user / 1e6).toBeLessThan(2)
})

test('an alias to itself, an alias to nothing and deep nesting are answered', () => {
  expect(codes('a: &a [*a]\n')).toContain('too-deep')
  expect(codes(written({ head: 'prices: *nothing' }))).toEqual(['alias-unknown'])
  expect(codes(`a: ${'['.repeat(5000)}`)).toContain('too-deep')
  expect(codes(`${'{a: '.repeat(5000)}`)).toContain('too-deep')
})

test('a tag is left unread and said', () => {
  expect(codes(written({ head: 'roof: !shape gable' }))).toEqual(['yaml-tag'])
})

test('thousands of problems end in a note, and stay in line order', () => {
  const openings = Array.from({ length: 3000 }, (_, i) => `  - { mark: W${i}, name: A, sender: coin, kind: cat }`).join(
    '\n',
  )
  const { problems } = parseRegister(written({ openings }))
  expect(problems).toHaveLength(1001)
  expect(problems.at(-1)).toMatchObject({ code: 'more', severity: 'error' })
  expect(problems.slice(0, 1000).map(problem => problem.line)).toEqual(Array.from({ length: 1000 }, (_, i) => i + 7))
})

test('thousands of warnings do not make an error', () => {
  const openings = Array.from(
    { length: 3000 },
    (_, i) => `  - { mark: W${i}, name: A, sender: coin, client: 'w-${i}' }`,
  ).join('\n')
  const { problems, register } = parseRegister(written({ openings }))
  expect(register?.openings).toHaveLength(3000)
  expect(problems.every(problem => problem.severity === 'warning')).toBe(true)
})

test('half a character or a control character from an escape is refused wherever text goes', () => {
  expect(found(written({ head: 'sides: ["\\ud800"]' }))).toEqual(['text "\\ud800"'])
  const contact = (more: string) => written({ openings: `  - { mark: A, name: A, sender: coin, ${more} }` })
  expect(found(contact('topic: "a\\0b"'))).toEqual(['topic-character "a\\0b"'])
  expect(found(contact('topic: "a\\ud800"'))).toEqual(['topic-character "a\\ud800"'])
  expect(found(written({ tally: '"a\\nuser eve"' }))).toEqual(['topic-character "a\\nuser eve"'])
  expect(found(written({ tally: '" a"' }))).toEqual(['topic-blank " a"'])
  expect(found(contact('client: "a\\0b"'))).toEqual(['client-id "a\\0b"'])
})

test('a text of YAML errors only ends in a note', () => {
  const all = codes('a: b: c\n'.repeat(500))
  expect(all.filter(code => code === 'yaml')).toHaveLength(100)
  expect(all.at(-1)).toBe('more')
})
