/** The scalars of YAML's core schema (YAML 1.2.2, section 10.3.2), in the order in which they are tried. */
const tag = (name: string, test: RegExp | undefined, resolve: (text: string) => unknown) => ({
  default: true,
  tag: `tag:yaml.org,2002:${name}`,
  test,
  resolve,
})
const string = tag('str', undefined, text => text)

/** As the package's composer asks for it; maps and lists need no tag there. */
export const coreSchema = {
  tags: [
    string,
    tag('null', /^(?:~|[Nn]ull|NULL)?$/, () => null),
    tag('bool', /^(?:[Tt]rue|TRUE|[Ff]alse|FALSE)$/, text => /^t/i.test(text)),
    tag('int', /^0o[0-7]+$|^0x[0-9a-fA-F]+$/, Number),
    tag('int', /^[-+]?[0-9]+$/, text => Number.parseInt(text, 10)),
    tag('float', /^[-+]?\.(?:inf|Inf|INF)$/, text => (text.startsWith('-') ? -Infinity : Infinity)),
    tag('float', /^\.(?:nan|NaN|NAN)$/, () => Number.NaN),
    tag('float', /^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$/, Number.parseFloat),
  ],
  /** Tags of other schemas: none is resolved. */
  knownTags: {},
  /** Under the name by which the composer asks for plain text. */
  [Symbol.for('yaml.scalar')]: string,
}
