// One file, dist/sash-tally.js: the card with everything it needs. The same sources give the same bytes.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import alias from '@rollup/plugin-alias'
import nodeResolve from '@rollup/plugin-node-resolve'
import { transform } from 'esbuild'
import { minify as terse } from 'terser'
import { tightTemplates } from './.config/tight-templates.mjs'

const here = path => fileURLToPath(new URL(path, import.meta.url))

/** Halves of the package `yaml` that the card never uses; what stands in for them is TypeScript of ours. */
const standIns = alias({
  entries: [
    {
      find: /^\.{1,2}\/(?:.+\/)?(?:stringify\w*|createNode|applyReviver|visit)\.js$/,
      replacement: here('src/text/browser/yaml-writing.ts'),
    },
    {
      find: /^\.{1,2}\/(?:.+\/)?yaml-1\.1\/(?:schema|binary|omap|pairs|set|timestamp)\.js$/,
      replacement: here('src/text/browser/yaml-1-1.ts'),
    },
  ],
})

const typescript = {
  name: 'typescript',
  async transform(code, id) {
    if (!id.endsWith('.ts')) return null
    const plain = await transform(code, {
      loader: 'ts',
      target: 'es2022',
      sourcefile: id,
      tsconfigRaw: { compilerOptions: { experimentalDecorators: true, useDefineForClassFields: false } },
    })
    const isDrawn = id.includes('/src/card/')
    return { code: isDrawn ? tightTemplates(plain.code, this.parse(plain.code)) : plain.code, map: null }
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
  },
  plugins: [standIns, typescript, nodeResolve({ browser: true, extensions: ['.mjs', '.js', '.ts'] }), minify],
  onwarn(warning, warn) {
    // What packages hold is theirs; rings of ours are found by a test.
    if (['CIRCULAR_DEPENDENCY', 'INVALID_ANNOTATION'].includes(warning.code)) return
    warn(warning)
  },
}
