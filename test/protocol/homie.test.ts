import { describe, expect, test } from 'vitest'
import { homieTopics, parseHomieDescription } from '../../src/protocol/homie.ts'

describe('what stands at the broker of other devices', () => {
  const { of, describedBy } = homieTopics('homie')

  test('a description is known by its topic, and nothing else is', () => {
    expect(describedBy(of('w01').description)).toBe('w01')
    for (const topic of [
      of('w01').state,
      'homie/5/$description',
      'homie/4/w01/$description',
      'other/5/w01/$description',
    ])
      expect(describedBy(topic), topic).toBeUndefined()
    expect(describedBy('homie/5/w01/contact/$description')).toBeUndefined()
  })

  test.each([
    ['{"version":7,"root":"mill","nodes":{}}', { version: 7, root: 'mill' }],
    ['{"version":-1,"root":"mill"}', { root: 'mill' }],
    ['{"version":1e300,"root":3}', {}],
    ['null', {}],
    ['[]', {}],
    ['nonsense', {}],
    ['', {}],
  ])('of %s only what fits is taken', (text, fits) => {
    expect(parseHomieDescription(text)).toEqual(fits)
  })
})
