// Stands in for the writing half of the package `yaml` in the one-file card, which reads registers and writes none.

const notHere = (): never => {
  throw new Error('the one-file card reads YAML and does not write it')
}

export {
  notHere as applyReviver,
  notHere as createNode,
  notHere as createStringifyContext,
  notHere as stringify,
  notHere as stringifyCollection,
  notHere as stringifyDocument,
  notHere as stringifyNumber,
  notHere as stringifyPair,
  notHere as stringifyString,
  notHere as visit,
  notHere as visitAsync,
}
