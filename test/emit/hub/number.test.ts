import { expect, test } from 'vitest'
import { parseProfile } from '../../../src/emit/hub/profile.ts'

const profile = (value: string) =>
  parseProfile(`place: /lookouts
as: list
entry: { heading: a, line: b, stirs: c, settles: d, tie: ${value} }
fill: { /heading: name, /line: topic, /stirs: opened, /settles: rest }
`)

test.each(['012', '0x1F', '0o17', '-07'])('%s is told of: it may be another number to other readers', value => {
  const { problems, remarks } = profile(value)
  expect(problems).toEqual([])
  expect(remarks.join()).toMatch(/is -?\d+ to YAML 1\.2 and may be another number/)
})
test.each(['12', '0', '0.5', "'012'", '-7'])('%s is kept without a word', value => {
  expect(profile(value)).toMatchObject({ problems: [], remarks: [] })
})
