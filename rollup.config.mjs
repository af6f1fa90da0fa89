// One file, dist/sash-tally.js: the card with everything it needs beside a keeper. The same sources give the same bytes.
// And dist/sash-tally-forecast.js: what a wall without a keeper forecasts with. It is loaded when the first forecast is due.
import { fileURLToPath } from 'node:url'
import alias from '@rollup/plugin-alias'
import nodeResolve from '@rollup/plugin-node-resolve'
import { transform } from 'esbuild'
import { minify as terse } from 'terser'
import { bundledPackages, licenceComment } from './.config/licences.mjs'
import { tightTemplates } from './.config/tight-templates.mjs'

const here = path => fileURLToPath(new URL(path, import.meta.url))

/** Halves of the package `yaml` that the card never uses, and what it never shows: TypeScript of ours stands in. */
const standIns = alias({
  entries: [
    {
      find: /^\.{1,2}\/(?:.+\/)?(?:public-api|schema\/Schema|stringifyString|visit)\.js$/,
      replacement: here('src/text/browser/yaml-left-out.ts'),
    },
    {
      find: /^\.{1,2}\/(?:.+\/)?(?:Alias|Pair|Scalar|YAMLMap|YAMLSeq)\.js$/,
      replacement: here('src/text/browser/yaml-nodes.ts'),
    },
    { find: /^\.{1,2}\/(?:.+\/)?doc\/Document\.js$/, replacement: here('src/text/browser/yaml-document.ts') },
    { find: /^\.{1,2}\/(?:.+\/)?directives\.js$/, replacement: here('src/text/browser/yaml-directives.ts') },
    { find: /^\.\/slips\/slips\.ts$/, replacement: here('src/register/browser/slips.ts') },
    { find: /^\.\/craft-rules\.ts$/, replacement: here('src/register/browser/craft-rules.ts') },
    { find: /^\.\/broker-rules\.ts$/, replacement: here('src/register/browser/broker-rules.ts') },
    { find: /^\.{1,2}\/must\.ts$/, replacement: here('src/budget/browser/must.ts') },
    { find: /^\.{1,2}\/(?:circuit\/)?figure\.ts$/, replacement: here('src/budget/browser/figure.ts') },
  ],
})

const typescript = {
  name: 'typescript',
  async transform(code, id) {
    if (!id.endsWith('.ts')) return null
    const plain = await transform(code, {
      loader: 'ts',
      // The least browsers; esbuild writes what they lack in other words.
      target: ['chrome105', 'safari16', 'firefox110'],
      sourcefile: id,
      tsconfigRaw: { compilerOptions: { experimentalDecorators: true, useDefineForClassFields: false } },
    })
    const isDrawn = id.includes('/src/card/')
    return { code: isDrawn ? tightTemplates(plain.code, this.parse(plain.code)) : plain.code, map: null }
  },
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
    const packages = bundledPackages(chunk.modules).map(name => here(`node_modules/${name}`))
    const licences = licenceComment([here('.'), ...packages])
    return {
      // The first line has a browser that knows it compile all functions while it loads the file, beside the page's thread.
      code: `//# allFunctionsCalledOnLoad\n/*! Sashtally, MIT. Every licence of what is in here stands at the end. */\n${small.code}\n${licences}\n`,
      map: null,
    }
  },
}

/** The second file, as the card asks for it: from beside itself, however it was loaded. */
const besides = {
  name: 'besides',
  resolveDynamicImport: specifier =>
    specifier === './forecast-file.ts' ? { id: './sash-tally-forecast.js', external: true } : null,
}

const resolve = nodeResolve({ browser: true, extensions: ['.mjs', '.js', '.ts'] })

function onwarn(warning, warn) {
  // What packages hold is theirs; rings of ours are found by a test.
  if (['CIRCULAR_DEPENDENCY', 'INVALID_ANNOTATION'].includes(warning.code)) return
  warn(warning)
}

/** @type {import('rollup').RollupOptions & { plugins: import('rollup').Plugin[], output: import('rollup').OutputOptions }} */
export const card = {
  input: here('src/card/one-file.ts'),
  output: {
    file: here('dist/sash-tally.js'),
    format: 'iife',
    exports: 'none',
    // A second copy on one page does nothing: it would make the policy of its templates twice, which a page may forbid.
    intro: "if (customElements.get('sash-tally')) return",
    indent: false,
  },
  plugins: [besides, standIns, typescript, resolve, minify],
  onwarn,
}

/** @type {import('rollup').RollupOptions} */
const forecast = {
  input: here('src/card/effects/forecast-file.ts'),
  output: { file: here('dist/sash-tally-forecast.js'), format: 'es', indent: false },
  plugins: [standIns, typescript, resolve, minify],
  onwarn,
}

/** The card is committed; the second file is made by `npm run build`, as the rest of dist is. */
export default ({ configBuild }) => (configBuild ? [forecast] : [card, forecast])
