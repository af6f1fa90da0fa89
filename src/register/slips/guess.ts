/** Lines of a text without their line feeds. */
export type Lines = readonly string[]

/** A slip that may have been made, with the line as it would be without. Lines and columns count from 0. */
export interface Guess {
  readonly line: number
  readonly column: number
  /** Characters to underline. */
  readonly length: number
  readonly mended: string
  /** Kebab-case name of the slip. */
  readonly code: string
  /** A sentence: the rule, what was found, what to do. */
  readonly message: string
}

/** Where the content of a line ends: before its comment and the blanks after it. */
export const endOf = (line: string): number => line.replace(/(?:^|\s)#.*$/, '').trimEnd().length
export const indentOf = (line: string): number => line.length - line.trimStart().length
export const isContent = (line: string | undefined): line is string => line !== undefined && /^\s*[^\s#]/.test(line)

/** The line with something put in. */
export const put = (line: string, at: number, what: string): string => line.slice(0, at) + what + line.slice(at)
