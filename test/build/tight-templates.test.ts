import { parseAst } from 'rollup/parseAst'
import { expect, test } from 'vitest'
import { tightCss, tightMarkup, tightTemplates } from '../../.config/tight-templates.mjs'

test('lines and indents of markup become one space, and other spaces stay', () => {
  expect(tightMarkup('<p>\n    <b>a  b</b>\n  c</p>')).toBe('<p> <b>a  b</b> c</p>')
})

test('CSS loses comments and idle spaces, and keeps selectors, values and quoted text', () => {
  expect(
    tightCss("\n  a :hover,\n  b > c {\n    /* why */\n    margin: 0 calc(1px + 2px);\n    content: ', a:  b';\n  }\n"),
  ).toBe(" a :hover,b > c{margin:0 calc(1px + 2px);content:', a:  b'}")
})

/** A template's blank, as the code under test has one. */
const blank = (inside: string) => `\${${inside}}`

test('only the texts of our own tags are touched, nested ones too', () => {
  const drawn = (p: string, g: string, d: string): string =>
    `const a = html\`${p}${blank(`b ? svg\`${g}\` : \`\n  \``)}\n</p>\`, c = other\`\n  \`, d = css\`${d}\`\n`
  const code = drawn('<p>\n  ', '<g>\n  </g>', 'a {\n b: c }')
  expect(tightTemplates(code, parseAst(code) as never)).toBe(
    drawn('<p> ', '<g> </g>', 'a{b:c}').replace('}\n</p>', '} </p>'),
  )
})
