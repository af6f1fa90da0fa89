import * as z from 'zod/mini'
import {
  brokerAddress,
  brokerAddresses,
  houseShape,
  loadName,
  loadPhases,
  openingShape,
  senderShape,
} from './schema.ts'

/** The sentence of a rule: `code|sentence`. */
function sentenceOf(schema: z.core.$ZodType): string | undefined {
  const { error, innerType } = schema._zod.def as z.core.$ZodTypeDef & { readonly innerType?: z.core.$ZodType }
  const says: unknown = error?.({ code: 'custom', input: undefined, path: [], message: '' } as never)
  if (typeof says === 'string') return /^[a-z-]+\|(.*)$/s.exec(says)?.[1]
  return innerType && sentenceOf(innerType)
}

// The register's reader checks addresses, loads, senders and openings one by one; here they stand in their places.
const address = z.optional(z.union([brokerAddress, brokerAddresses]))
const load = z.optional(z.union([loadName, loadPhases]))
const ruleOf = (schema: z.core.$ZodType): string => `rule|${sentenceOf(schema)}`
const register = z.strictObject({
  ...houseShape,
  broker: z.optional(z.strictObject({ mqtt: address, websocket: address }, ruleOf(houseShape.broker))),
  senders: z.record(z.string(), z.strictObject({ ...senderShape, load }), ruleOf(houseShape.senders)),
  openings: z.array(z.strictObject(openingShape), ruleOf(houseShape.openings)),
})

/**
 * JSON Schema of a register, from the schema that checks it, with the sentence of each rule as its description.
 * Rules between fields cannot be told in it: `parseRegister` refuses more.
 * @see JSON Schema, draft 2020-12
 */
export function registerJsonSchema(): Readonly<Record<string, unknown>> {
  const { $schema, ...rest } = z.toJSONSchema(register, {
    target: 'draft-2020-12',
    io: 'input',
    override({ zodSchema, jsonSchema }) {
      const sentence = sentenceOf(zodSchema)
      if (sentence !== undefined) jsonSchema.description = sentence
      // Text of YAML holds none of these, and not every editor reads patterns as Unicode.
      if (jsonSchema.pattern === String.raw`^[^\0\p{Cs}]*$`) delete jsonSchema.pattern
    },
  })
  return {
    $schema,
    title: 'Register of a house',
    description: 'Every window and door that has a contact. Passwords never stand here.',
    ...rest,
  }
}
