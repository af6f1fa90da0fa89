// Stands in for what the package `yaml` has beside its parser and composer, which are all that `readTree` asks for: the
// one-file card reads registers as YAML 1.2 and writes none.

const notHere = (): never => {
  throw new Error('the one-file card reads YAML and does not write it')
}

export {
  notHere as parse,
  notHere as parseAllDocuments,
  notHere as parseDocument,
  notHere as Schema,
  notHere as stringify,
  notHere as stringifyString,
  notHere as visit,
  notHere as visitAsync,
}
