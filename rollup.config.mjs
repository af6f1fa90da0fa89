// One file, dist/sash-tally.js: the card with everything it needs. The same sources give the same bytes.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import commonjs from '@rollup/plugin-commonjs'
import nodeResolve from '@rollup/plugin-node-resolve'
import replace from '@rollup/plugin-replace'
import { transform } from 'esbuild'
import { spare } from './.config/browser/spare.mjs'

const here = path => fileURLToPath(new URL(path, import.meta.url))

const typescript = {
  name: 'typescript',
  async transform(code, id) {
    if (!id.endsWith('.ts')) return null
    return transform(code, {
      loader: 'ts',
      target: 'es2022',
      sourcefile: id,
      sourcemap: true,
      tsconfigRaw: { compilerOptions: { experimentalDecorators: true, useDefineForClassFields: false } },
    })
  },
}

/** Copyright lines of what is bundled, as their licences ask. */
function notices(modules) {
  const names = new Set()
  for (const id of Object.keys(modules)) {
    const name = /node_modules\/((?:@[^/]+\/)?[^/]+)\/(?!.*node_modules\/)/.exec(id)?.[1]
    if (name && modules[id].renderedLength > 0) names.add(name)
  }
  return [...names].sort().map(name => {
    const { version, license, author } = JSON.parse(readFileSync(here(`node_modules/${name}/package.json`), 'utf8'))
    const who = (typeof author === 'string' ? author : (author?.name ?? `the ${name} authors`)).replace(/\s*[<(].*$/, '')
    return `${name} ${version} (${license}, (c) ${who})`
  })
}

const minify = {
  name: 'minify',
  async renderChunk(code, chunk) {
    const { code: small } = await transform(code, { minify: true, target: 'es2022', legalComments: 'none', charset: 'utf8' })
    return { code: `/*! Sashtally, MIT. With ${notices(chunk.modules).join(', ')}. */\n${small}`, map: null }
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
