// Stands in for `../circuit/figure.ts` in the one-file card, which shows no sources: `budget` does.
import type { Figure } from '../types.ts'

export const figure = (_name: string, value: number, _unit?: string, _status?: string, _source?: string): Figure => ({
  name: '',
  value,
  unit: '',
  status: 'assumption',
  source: '',
})
