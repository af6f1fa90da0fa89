// One file, dist/sash-tally.js: the card with everything it needs. The same sources give the same bytes.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import commonjs from '@rollup/plugin-commonjs'
import nodeResolve from '@rollup/plugin-node-resolve'
import replace from '@rollup/plugin-replace'
import { transform } from 'esbuild'
import { minify as terse } from 'terser'
import { spare } from './.config/browser/spare.mjs'

const here = path => fileURLToPath(new URL(path, import.meta.url))

/** Sources and notes of the budget's figures: the command line shows them, the card does not. */
function withoutProse(code, tree) {
  const long = []
  const walk = node => {
    if (node.type === 'Literal' && typeof node.value === 'string' && node.value.length > 26) long.push(node)
    for (const child of Object.values(node)) {
      if (Array.isArray(child)) for (const each of child) each?.type && walk(each)
      else if (child?.type) walk(child)
    }
  }
  walk(tree)
  return long.reduceRight((text, { start, end }) => `${text.slice(0, start)}''${text.slice(end)}`, code)
}

const typescript = {
  name: 'typescript',
  async transform(code, id) {
    if (!id.endsWith('.ts')) return null
    const plain = await transform(code, {
      loader: 'ts',
      target: 'es2022',
      sourcefile: id,
      minifyWhitespace: id.includes('/src/card/'),
      tsconfigRaw: { compilerOptions: { experimentalDecorators: true, useDefineForClassFields: false } },
    })
    if (id.includes('/src/card/')) return { code: tight(plain.code), map: null }
    if (id.includes('/src/budget/')) return { code: withoutProse(plain.code, this.parse(plain.code)), map: null }
    return { code: plain.code, map: null }
  },
}

/** Templates and styles without their line breaks; code has none left here. */
const tight = code =>
  code.replace(/\n\s*/g, ' ').replace(/css`[^`]*`/g, text =>
    text
      .replace(/\/\*.*?\*\//g, '')
      .replace(/\s*([{};>,])\s*/g, '$1')
      .replace(/:\s+/g, ':'),
  )

/** Copyright lines of what is bundled, as their licences ask. */
function notices(modules) {
  const names = new Set()
  for (const id of Object.keys(modules)) {
    const name = /node_modules\/((?:@[^/]+\/)?[^/]+)\/(?!.*node_modules\/)/.exec(id)?.[1]
    if (name && modules[id].renderedLength > 0) names.add(name)
  }
  return [...names].sort().map(name => {
    const { version, license, author } = JSON.parse(readFileSync(here(`node_modules/${name}/package.json`), 'utf8'))
    const who = (typeof author === 'string' ? author : (author?.name ?? `the ${name} authors`)).replace(
      /\s*[<(].*$/,
      '',
    )
    return `${name} ${version} (${license}, (c) ${who})`
  })
}

const minify = {
  name: 'minify',
  async renderChunk(code, chunk) {
    const small = await terse(code, {
      ecma: 2020,
      module: true,
      // Less inlined and joined repeats itself more: larger, but smaller once compressed.
      compress: {
        passes: 3,
        unsafe_arrows: true,
        pure_getters: true,
        inline: 1,
        sequences: false,
        lhs_constants: false,
        keep_fargs: false,
      },
      format: { comments: false, ascii_only: true },
    })
    return { code: `/*! Sashtally, MIT. With ${notices(chunk.modules).join(', ')}. */\n${small.code}\n`, map: null }
  },
}

export default {
  input: here('src/card/define.ts'),
  output: {
    file: here('dist/sash-tally.js'),
    format: 'iife',
    name: 'sashtally',
    extend: true,
    indent: false,
    intro: readFileSync(here('.config/browser/process.js'), 'utf8'),
  },
  plugins: [
    spare(),
    replace({
      preventAssignment: true,
      values: { 'process.env.NODE_ENV': '"production"' },
    }),
    typescript,
    nodeResolve({ browser: true, preferBuiltins: false, extensions: ['.mjs', '.js', '.ts'] }),
    commonjs({ transformMixedEsModules: true }),
    minify,
  ],
  onwarn(warning, warn) {
    if (['CIRCULAR_DEPENDENCY', 'THIS_IS_UNDEFINED', 'INVALID_ANNOTATION'].includes(warning.code)) return
    warn(warning)
  },
}
