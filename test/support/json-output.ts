import { Ajv2020 } from 'ajv/dist/2020.js'
import addFormats from 'ajv-formats'
import type { Described } from '../../src/cli/json/described.ts'
import { outputSchema } from '../../src/cli/json/outputs.ts'

const ajv = new Ajv2020({ strict: false, allErrors: true })
addFormats.default(ajv)

/** The schema with every object closed: what it does not name is an error too. */
function closed(schema: unknown): unknown {
  if (Array.isArray(schema)) return schema.map(closed)
  if (typeof schema !== 'object' || schema === null) return schema
  const inner = Object.fromEntries(Object.entries(schema).map(([key, value]) => [key, closed(value)]))
  return 'properties' in inner ? { ...inner, additionalProperties: false } : inner
}

/** What does not fit the schema of a command's `--json`; empty when all fits. Fields that it does not name do not fit. */
export function misfits(name: Described, text: string): readonly string[] {
  const fits = ajv.compile(closed(outputSchema(name)) as object)
  if (fits(JSON.parse(text))) return []
  return (fits.errors ?? []).map(
    ({ instancePath, message, params }) => `${instancePath} ${message} ${JSON.stringify(params)}`,
  )
}
