const ESCAPES: Readonly<Record<string, number>> = { n: 10, t: 9, r: 13, a: 7, b: 8, f: 12, v: 11 }

/**
 * The string literal of each `#define NAME "…"`, read byte for byte as a compiler does.
 * @see ISO/IEC 9899:1999, 5.2.1.1 (trigraphs), 5.1.1.2 (spliced lines), 6.4.4.4 and 6.4.5
 * @throws Error when a literal does not end on its line, or holds an escape that the standard does not know
 */
export function literalsOf(header: string): Record<string, string> {
  const trigraph: Readonly<Record<string, string>> = {
    '=': '#',
    '/': '\\',
    "'": '^',
    '(': '[',
    ')': ']',
    '!': '|',
    '<': '{',
    '>': '}',
    '-': '~',
  }
  const text = header
    .replace(/\?\?([=/'()!<>-])/g, (_all, sign: string) => trigraph[sign]!)
    .replaceAll('\\\n', '')
    .replace(/("(?:\\.|[^"\\\n])*")|\/\*[\s\S]*?\*\//g, (_all, string?: string) => string ?? ' ')
  const found: Record<string, string> = {}
  for (const line of text.split('\n')) {
    const [, name, rest] = /^#define (\w+) (".*)$/.exec(line) ?? []
    if (name === undefined || rest === undefined) continue
    found[name] = literal(rest)
  }
  return found
}

function literal(text: string): string {
  const bytes: number[] = []
  const source = Buffer.from(text, 'utf8').toString('latin1')
  let at = 1
  for (; source[at] !== '"'; ) {
    if (at >= source.length) throw new Error(`the literal does not end: ${text}`)
    if (source[at] !== '\\') {
      bytes.push(source.charCodeAt(at++))
      continue
    }
    const [all = '', octal, simple, same] = /^\\(?:([0-7]{1,3})|([ntrabfv])|(["'?\\]))/.exec(source.slice(at)) ?? []
    if (all === '') throw new Error(`no escape of C99: ${source.slice(at, at + 4)}`)
    bytes.push(
      octal === undefined ? (simple === undefined ? same!.charCodeAt(0) : ESCAPES[simple]!) : Number.parseInt(octal, 8),
    )
    at += all.length
  }
  if (source.slice(at + 1).trim() !== '') throw new Error(`something follows the literal: ${text}`)
  return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(Uint8Array.from(bytes))
}
