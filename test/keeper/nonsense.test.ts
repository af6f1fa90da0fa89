import { it } from 'vitest'
import { sendNonsense } from './nonsense.ts'

it(
  '10,000 random topics and payloads leave the keeper running and the ledger right',
  () => sendNonsense(10_000, 20260601),
  60_000,
)
