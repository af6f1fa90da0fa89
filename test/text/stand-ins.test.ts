import { existsSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import * as yamlDirectives from '../../src/text/browser/yaml-directives.ts'
import * as yamlDocument from '../../src/text/browser/yaml-document.ts'
import * as yamlLeftOut from '../../src/text/browser/yaml-left-out.ts'
import * as yamlNodes from '../../src/text/browser/yaml-nodes.ts'

const yaml = new URL('../../node_modules/yaml/browser/dist/', import.meta.url)
const exported = (file: string): string[] =>
  /export \{([^}]*)\};\s*$/
    .exec(readFileSync(new URL(file, yaml), 'utf8'))![1]!
    .split(',')
    .map(name => name.trim())

/** Files whose place a stand-in takes, and what of them nothing that is left asks for. */
const PLACES: [file: string, standIn: object, without?: readonly string[]][] = [
  ['public-api.js', yamlLeftOut],
  ['schema/Schema.js', yamlLeftOut],
  ['stringify/stringifyString.js', yamlLeftOut],
  ['visit.js', yamlLeftOut],
  ['doc/directives.js', yamlDirectives],
  ['doc/Document.js', yamlDocument],
  ['nodes/Alias.js', yamlNodes],
  ['nodes/Pair.js', yamlNodes, ['createPair']],
  ['nodes/Scalar.js', yamlNodes, ['isScalarValue']],
  ['nodes/YAMLMap.js', yamlNodes, ['findPair']],
  ['nodes/YAMLSeq.js', yamlNodes],
]

test.each(PLACES)('%s is there, and its stand-in has what it exports', (file, standIn, without = []) => {
  expect(existsSync(new URL(file, yaml))).toBe(true)
  expect(exported(file).filter(name => !(name in standIn))).toEqual([...without].sort())
})

test('what the card never does says so when it is done after all', () => {
  for (const call of Object.values(yamlLeftOut)) expect(call).toThrow('the one-file card reads YAML')
})
