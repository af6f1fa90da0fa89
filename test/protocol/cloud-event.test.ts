import { Ajv } from 'ajv'
import addFormats from 'ajv-formats'
import { describe, expect, test } from 'vitest'
import { ALERTS } from '../../src/protocol/alert.ts'
import { cloudEventOf } from '../../src/protocol/cloud-event.ts'

/**
 * CloudEvents 1.0.2 (CNCF, Apache 2.0), "Context Attributes" and the JSON Event Format with its JSON Schema: from
 * memory. Names are 1 to 20 lower-case letters and digits; `id`, `source`, `specversion` and `type` are there and not
 * empty; `source` is a URI-reference, `time` is RFC 3339, `datacontenttype` a media type; `data` and `data_base64` do
 * not stand together.
 */
const ajv = new Ajv({ strict: true, allErrors: true })
addFormats.default(ajv)
const isEvent = ajv.compile({
  type: 'object',
  required: ['id', 'source', 'specversion', 'type'],
  properties: {
    id: { type: 'string', minLength: 1 },
    source: { type: 'string', minLength: 1, format: 'uri-reference' },
    specversion: { const: '1.0' },
    type: { type: 'string', minLength: 1 },
    datacontenttype: { type: 'string', pattern: '^[a-z]+/[a-z0-9.+-]+$' },
    dataschema: { type: 'string', format: 'uri' },
    subject: { type: 'string', minLength: 1 },
    time: { type: 'string', format: 'date-time' },
    data: {},
  },
  additionalProperties: false,
})

const AT = '2026-11-25T22:30:00.000Z'

describe('an alert as a CloudEvent', () => {
  test.each(ALERTS)('%s has every attribute as the specification wants it', what => {
    const note = { v: 1, what, marks: ['W02', 'W07'], at: AT } as const
    for (const [tally, broker] of [
      ['ropewalk/tally', 'mqtts://broker.lan:8883'],
      ['ropewalk/tally', undefined],
      ['Haus/Zähler 1/a?b#c', undefined],
      ['//x', 'mqtt://[::1]'],
    ] as const) {
      const event = cloudEventOf(note, 'id-1', tally, broker)
      expect([isEvent(event), isEvent.errors, event.source]).toEqual([true, null, event.source])
      for (const name of Object.keys(event)) expect(name).toMatch(/^[a-z0-9]{1,20}$/)
      expect(event).toMatchObject({ id: 'id-1', type: `sashtally.alert.${what}`, time: AT, data: note })
    }
  })

  test('comes from the topic of its tally, at its broker where that is known', () => {
    const note = { v: 1, what: 'overdue', marks: ['W02'], at: AT } as const
    const source = (tally: string, broker?: string) => cloudEventOf(note, 'x', tally, broker).source
    expect(source('ropewalk/tally', 'mqtt://broker.lan')).toBe('mqtt://broker.lan/ropewalk/tally/alert')
    expect(source('ropewalk/tally')).toBe('/ropewalk/tally/alert')
    expect(source('Zähler 1')).toBe('/Z%C3%A4hler%201/alert')
  })
})
