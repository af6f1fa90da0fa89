// Stands in for the nodes of the package `yaml` in the one-file card: what its composer sets, and what `readTree` reads.
// Nothing there is edited, copied or written. The symbols are those by which the package tells its nodes apart.
import type { Range } from 'yaml'

const NODE_TYPE = Symbol.for('yaml.node.type')

class Node {
  declare range: Range | undefined
  readonly [NODE_TYPE]: symbol

  constructor(type: string) {
    this[NODE_TYPE] = Symbol.for(`yaml.${type}`)
  }
}

class Alias extends Node {
  readonly source: string

  constructor(source: string) {
    super('alias')
    this.source = source
  }
}

class Scalar extends Node {
  static readonly BLOCK_FOLDED = 'BLOCK_FOLDED'
  static readonly BLOCK_LITERAL = 'BLOCK_LITERAL'
  static readonly PLAIN = 'PLAIN'
  static readonly QUOTE_DOUBLE = 'QUOTE_DOUBLE'
  static readonly QUOTE_SINGLE = 'QUOTE_SINGLE'
  readonly value: unknown

  constructor(value: unknown) {
    super('scalar')
    this.value = value
  }
}

class Pair extends Node {
  readonly key: unknown
  readonly value: unknown

  constructor(key: unknown, value: unknown = null) {
    super('pair')
    this.key = key
    this.value = value
  }
}

class YAMLMap extends Node {
  static readonly tagName = 'tag:yaml.org,2002:map'
  readonly items: unknown[] = []

  constructor() {
    super('map')
  }
}

class YAMLSeq extends Node {
  static readonly tagName = 'tag:yaml.org,2002:seq'
  readonly items: unknown[] = []

  constructor() {
    super('seq')
  }
}

export { Alias, Pair, Scalar, YAMLMap, YAMLSeq }
