// Stands in for the document of the package `yaml` in the one-file card: what the package's composer sets, and what
// `readTree` reads. Nothing there is edited, copied or written.
import type { DocumentOptions, ParsedNode, ParseOptions, Range, SchemaOptions, YAMLError } from 'yaml'
import { coreSchema } from './yaml-core-schema.ts'

type ComposeOptions = ParseOptions &
  DocumentOptions &
  SchemaOptions & { readonly _directives: { atDocument(): unknown } }

class Document {
  commentBefore: string | null = null
  comment: string | null = null
  errors: YAMLError[] = []
  warnings: YAMLError[] = []
  contents: ParsedNode | null = null
  range: Range | undefined
  readonly options: Omit<ComposeOptions, '_directives'>
  readonly directives: unknown
  readonly schema = coreSchema

  constructor(_value: undefined, options: ComposeOptions) {
    this.options = { strict: true, version: '1.2', ...options }
    this.directives = options._directives.atDocument()
  }
}

export { Document }
