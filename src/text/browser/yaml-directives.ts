// Stands in for the directives of the package `yaml` in the one-file card: what is read of them. None is written.
type Version = '1.1' | '1.2'
type OnLineError = (offset: number, message: string, isWarning?: boolean) => void

const DEFAULT_TAGS: Readonly<Record<string, string>> = { '!!': 'tag:yaml.org,2002:' }

class Directives {
  docStart: true | null = null
  docEnd = false
  atNextDocument = false
  yaml: { explicit?: boolean; version: Version }
  tags: Record<string, string>

  constructor(yaml: { explicit?: boolean; version: Version }, tags = DEFAULT_TAGS) {
    this.yaml = { explicit: false, ...yaml }
    this.tags = { ...DEFAULT_TAGS, ...tags }
  }

  /** Those of the document that begins; version 1.2 lets them end with it, 1.1 with the next that has some. */
  atDocument(): Directives {
    const those = new Directives(this.yaml, this.tags)
    this.atNextDocument = this.yaml.version === '1.1'
    if (!this.atNextDocument) this.#begin('1.2')
    return those
  }

  /** @returns whether the line is one */
  add(line: string, onError: OnLineError): boolean {
    if (this.atNextDocument) this.#begin('1.1')
    this.atNextDocument = false
    const [name, ...parts] = line.trim().split(/[ \t]+/)
    const [first = '', second] = parts
    if (name === '%TAG') {
      if (parts.length !== 2) onError(0, '%TAG directive should contain exactly two parts')
      if (second === undefined) return false
      this.tags[first] = second
      return true
    }
    if (name !== '%YAML') {
      onError(0, `Unknown directive ${name}`, true)
      return false
    }
    this.yaml.explicit = true
    if (parts.length !== 1) onError(0, '%YAML directive should contain exactly one part')
    else if (first === '1.1' || first === '1.2') {
      this.yaml.version = first
      return true
    } else onError(6, `Unsupported YAML version ${first}`, /^\d+\.\d+$/.test(first))
    return false
  }

  /** @returns the tag as a `%TAG` line has it whole; null where it cannot be told */
  tagName(source: string, onError: (message: string) => void): string | null {
    const refused = (message: string): null => {
      onError(message)
      return null
    }
    if (source === '!') return source
    if (!source.startsWith('!')) return refused(`Not a valid tag: ${source}`)
    if (source[1] === '<') {
      const verbatim = source.slice(2, -1)
      if (/^!!?$/.test(verbatim)) return refused(`Verbatim tags aren't resolved, so ${source} is invalid.`)
      if (!source.endsWith('>')) onError('Verbatim tags must end with a >')
      return verbatim
    }
    const [, handle = '', suffix = ''] = /^(.*!)([^!]*)$/s.exec(source) ?? []
    if (!suffix) onError(`The ${source} tag has no suffix`)
    const prefix = this.tags[handle]
    if (!prefix) return handle === '!' ? source : refused(`Could not resolve tag: ${source}`)
    try {
      return prefix + decodeURIComponent(suffix)
    } catch (error) {
      return refused(String(error))
    }
  }

  #begin(version: Version): void {
    this.yaml = { explicit: false, version }
    this.tags = { ...DEFAULT_TAGS }
  }
}

export { Directives }
