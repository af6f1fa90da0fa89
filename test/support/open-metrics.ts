export interface Sample {
  readonly name: string
  readonly type: string
  readonly unit?: string
  readonly value: number
}

const NAME = /^[a-zA-Z_:][a-zA-Z0-9_:]*$/
const TYPES = ['counter', 'gauge', 'histogram', 'gaugehistogram', 'stateset', 'info', 'summary', 'unknown']
/** Written from the grammar: decimal numbers, infinities, NaN. */
const NUMBER = /^([+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?|[+-]?inf(inity)?|nan)$/i

/**
 * Reads an exposition of gauges without labels as the OpenMetrics specification 1.0 has it (github.com/OpenObservability,
 * sections "ABNF", "Metric types" and "Unit"; written from memory of the text).
 * @throws Error with the line that the specification forbids
 */
export function readOpenMetrics(text: string): Sample[] {
  if (!text.endsWith('\n# EOF\n')) throw new Error('an exposition ends with "# EOF" and a line feed')
  if (text.includes('\r')) throw new Error('lines end with a line feed alone')
  const done = new Set<string>()
  const samples: Sample[] = []
  let family: { name: string; type?: string; unit?: string; help?: string; isSampled: boolean } | undefined
  const must = (isRight: boolean, line: string): void => {
    if (!isRight) throw new Error(`not OpenMetrics: ${JSON.stringify(line)}`)
  }
  for (const line of text.slice(0, -'# EOF\n'.length).split('\n').slice(0, -1)) {
    const said = /^# (TYPE|UNIT|HELP) (\S+) (.*)$/.exec(line)
    if (said) {
      const [, what = '', name = '', value = ''] = said
      if (family?.name !== name) {
        must(NAME.test(name) && !done.has(name) && (family?.isSampled ?? true), line)
        done.add(name)
        family = { name, isSampled: false }
      }
      const key = what.toLowerCase() as 'type' | 'unit' | 'help'
      must(!family.isSampled && family[key] === undefined, line)
      if (key === 'type') must(TYPES.includes(value), line)
      // A unit stands at the end of the name.
      if (key === 'unit') must(name.endsWith(`_${value}`), line)
      if (key === 'help') must(/^([^\\"]|\\[\\n"])*$/.test(value), line)
      family[key] = value
      continue
    }
    const [name = '', value = '', ...more] = line.split(' ')
    must(NAME.test(name) && NUMBER.test(value) && more.length === 0, line)
    // A gauge has one sample, without a suffix.
    must(family !== undefined && family.name === name && family.type === 'gauge' && !family.isSampled, line)
    family!.isSampled = true
    const number = /inf/i.test(value) ? Number(`${value.startsWith('-') ? '-' : ''}Infinity`) : Number(value)
    samples.push({ name, type: 'gauge', ...(family!.unit === undefined ? {} : { unit: family!.unit }), value: number })
  }
  return samples
}
