import { existsSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import * as yaml11 from '../../src/text/browser/yaml-1-1.ts'
import * as yamlDocument from '../../src/text/browser/yaml-document.ts'
import * as yamlWriting from '../../src/text/browser/yaml-writing.ts'

const yaml = new URL('../../node_modules/yaml/browser/dist/', import.meta.url)
const exported = (file: string): string[] =>
  /export \{([^}]*)\};\s*$/
    .exec(readFileSync(new URL(file, yaml), 'utf8'))![1]!
    .split(',')
    .map(name => name.trim())

/** Files whose place a stand-in takes, and what of them nothing that is left asks for. */
const PLACES: [file: string, standIn: object, without?: readonly string[]][] = [
  ['stringify/stringify.js', yamlWriting],
  ['stringify/stringifyString.js', yamlWriting],
  ['stringify/stringifyPair.js', yamlWriting],
  ['stringify/stringifyCollection.js', yamlWriting],
  ['stringify/stringifyDocument.js', yamlWriting],
  ['stringify/stringifyNumber.js', yamlWriting],
  ['stringify/stringifyComment.js', yamlWriting, ['indentComment', 'lineComment', 'stringifyComment']],
  ['doc/Document.js', yamlDocument],
  ['doc/createNode.js', yamlWriting],
  ['doc/applyReviver.js', yamlWriting],
  ['visit.js', yamlWriting],
  ['schema/yaml-1.1/schema.js', yaml11],
  ['schema/yaml-1.1/binary.js', yaml11],
  ['schema/yaml-1.1/omap.js', yaml11, ['YAMLOMap']],
  ['schema/yaml-1.1/pairs.js', yaml11, ['createPairs', 'resolvePairs']],
  ['schema/yaml-1.1/set.js', yaml11, ['YAMLSet']],
  ['schema/yaml-1.1/timestamp.js', yaml11],
]

test.each(PLACES)('%s is there, and its stand-in has what it exports', (file, standIn, without = []) => {
  expect(existsSync(new URL(file, yaml))).toBe(true)
  expect(exported(file).filter(name => !(name in standIn))).toEqual([...without].sort())
})

test('what the card never does says so when it is done after all', () => {
  for (const call of Object.values(yamlWriting)) expect(call).toThrow('the one-file card reads YAML')
})
