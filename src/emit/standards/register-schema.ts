import { registerJsonSchema } from '../../register/json-schema.ts'

/** The JSON Schema of a register, as the file of it in the package. */
export const registerSchemaText = (): string => `${JSON.stringify(registerJsonSchema(), null, 2)}\n`
