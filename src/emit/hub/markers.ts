import { Lexer } from 'yaml'
import { quoted } from '../../text/yaml-text.ts'

const inComment = (tally: string): string => quoted(tally).slice(1, -1).replaceAll('\\"', '"').replaceAll('\\\\', '\\')
/** The comment lines between which everything is ours. */
export const markersOf = (tally: string): { begin: string; end: string } => ({
  begin: `# sashtally ${inComment(tally)}: begin, do not edit`,
  end: `# sashtally ${inComment(tally)}: end`,
})

/** The lines of our block, markers included; markers that make no pair go to `fault`. */
export function findBlock(
  text: string,
  tally: string,
  fault: (code: string, from: number, to: number, message: string) => void,
): { from: number; to: number } | undefined {
  const { begin, end } = markersOf(tally)
  if (!text.includes(begin) && !text.includes(end)) return undefined
  const begins: number[] = []
  const ends: number[] = []
  let offset = 0
  let scalarNext = false
  for (const lexeme of new Lexer().lex(text)) {
    if (lexeme === '\u001F') scalarNext = true
    if (lexeme === '\u0002' || lexeme === '\u0018' || lexeme === '\u001F') continue
    if (!scalarNext && lexeme.startsWith('#')) {
      const found = lexeme.trimEnd()
      const alone = text.slice(text.lastIndexOf('\n', offset - 1) + 1, offset).trim() === ''
      if (alone && found === begin) begins.push(offset)
      if (alone && found === end) ends.push(offset)
    }
    offset += lexeme.length
    scalarNext = false
  }
  const [from] = begins
  const [to] = ends
  if (from === undefined && to === undefined) return undefined
  if (begins.length === 1 && ends.length === 1 && from! < to!) {
    const after = text.indexOf('\n', to)
    return { from: text.lastIndexOf('\n', from! - 1) + 1, to: after < 0 ? text.length : after + 1 }
  }
  const marks = [...begins.map(o => [o, begin] as const), ...ends.map(o => [o, end] as const)].sort(
    (a, b) => a[0] - b[0],
  )
  for (const [o, marker] of marks) {
    fault(
      'markers',
      o,
      o + marker.length,
      'Our entries stand between one begin marker and one end marker after it; this file holds another set: take the lines between them and the markers out, and run it again',
    )
  }
  return undefined
}
