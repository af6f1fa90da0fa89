import { readFileSync } from 'node:fs'

/** This package's version, as its package.json says. */
export function version(): string {
  const text = readFileSync(new URL('../../package.json', import.meta.url), 'utf8')
  return (JSON.parse(text) as { version: string }).version
}
