import { entrySchema } from '../../protocol/entry.ts'
import { type JsonSchema, jsonSchema } from '../../protocol/json-schema.ts'
import { proveSchema, roundSchema } from './bench.ts'
import { assignSchema, budgetSchema, forecastSchema, partsSchema, suitSchema } from './cells.ts'
import { checkSchema } from './check.ts'
import type { Described } from './described.ts'
import { logSchema } from './log.ts'
import { tallySchema } from './tally.ts'

const OUTPUTS = {
  entry: { says: 'One line of a tally file, as `export --jsonl` writes it.', schema: entrySchema },
  log: { says: 'One line of what `keep` and `serve` print with `--log json`.', schema: logSchema },
  assign: { says: 'What `assign --json` prints.', schema: assignSchema },
  budget: { says: 'What `budget --json` prints.', schema: budgetSchema },
  check: { says: 'What `check --json` prints.', schema: checkSchema },
  forecast: { says: 'What `forecast --json` prints.', schema: forecastSchema },
  parts: { says: 'What `parts --json` prints.', schema: partsSchema },
  prove: { says: 'What `prove --json` prints.', schema: proveSchema },
  round: { says: 'What `round --json` prints.', schema: roundSchema },
  suit: { says: 'What `suit --json` prints.', schema: suitSchema },
  tally: { says: 'What `tally --json` prints.', schema: tallySchema },
} satisfies Record<Described, unknown>

/** JSON Schema (2020-12) of what a command prints with `--json`, or of a line that it writes. */
export function outputSchema(name: Described): JsonSchema {
  const { says, schema } = OUTPUTS[name]
  const { $schema, ...rest } = jsonSchema(schema)
  return { $schema, description: says, ...rest }
}
