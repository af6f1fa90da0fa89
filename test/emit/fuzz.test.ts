import fc from 'fast-check'
import { load } from 'js-yaml'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { accessList, accessProblems } from '../../src/emit/access.ts'
import { asyncapi } from '../../src/emit/asyncapi.ts'
import { hub } from '../../src/emit/hub.ts'
import { parseProfile } from '../../src/emit/profile.ts'
import { anyHouse } from './houses.ts'

const { profile } = parseProfile(`place: /lookouts
as: list
entry: { heading: a, line: b, stirs: c, settles: d }
fill: { /heading: name, /line: topic, /stirs: opened, /settles: rest }
`)

test('any name and word comes back from the hub’s YAML, for YAML 1.1, 1.2 and another reader', () => {
  fc.assert(
    fc.property(anyHouse, register => {
      const { text } = hub(register, { profile: profile!, wire: 'contact' })
      const wanted = register.openings.map(({ name, topic, sender }) => ({
        heading: name,
        line: topic,
        stirs: sender.words.opened,
        settles: sender.words.rest,
      }))
      for (const read of [parse(text!), parse(text!, { version: '1.1' }), load(text!)]) {
        expect(Array.isArray(read) ? read : Object.values(read as object)[0]).toEqual(wanted)
      }
    }),
    { numRuns: 200 },
  )
})

test('any word comes back from the AsyncAPI document as the last will', () => {
  fc.assert(
    fc.property(anyHouse, register => {
      const { text, problems } = asyncapi(register)
      if (text === undefined) return expect(problems.length).toBeGreaterThan(0)
      const { servers } = parse(text) as {
        servers: Record<string, { bindings: { mqtt: { clientId: string; lastWill: { message: string } } } }>
      }
      expect(Object.values(servers).map(({ bindings }) => bindings.mqtt.lastWill.message)).toEqual(
        register.openings.map(({ sender }) => sender.words.rest),
      )
    }),
    { numRuns: 200 },
  )
})

test('an access list has a line for each account and topic, or the reasons why not', () => {
  fc.assert(
    fc.property(anyHouse, fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }), (house, client) => {
      const register = {
        ...house,
        openings: house.openings.map((opening, index) => (index ? opening : { ...opening, client })),
      }
      if (accessProblems(register).length) return
      const users = accessList(register)
        .split('\n')
        .filter(line => line.startsWith('user '))
      expect(users).toHaveLength(register.openings.length + 4)
      expect(users).toContain(`user ${client}`)
    }),
  )
})
