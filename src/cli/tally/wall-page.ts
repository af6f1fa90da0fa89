import { escapeHtml } from '../../text/html.ts'
import { inPackage } from '../files/in-package.ts'
import { readText } from '../files/read-write.ts'
import type { World } from '../world.ts'
import type { PageFile } from './page.ts'
import type { Lang } from './wishes.ts'

export interface WallOptions {
  readonly title: string
  readonly broker: string
  /** URL of the register, for a wall that counts for itself. */
  readonly register?: string
  /** Topic prefix of a keeper's tally, for a wall without a register. */
  readonly tally?: string
  /** People may say at this wall what they saw. */
  readonly maySay?: boolean
  /** Language of the card; default English. */
  readonly lang?: Lang
}

/** The page that shows the card and nothing else. */
export function wallPage({
  title,
  broker,
  register,
  tally,
  maySay,
  lang = 'en',
}: WallOptions): PageFile & { readonly body: string } {
  const attributes = [
    register === undefined ? '' : ` register="${escapeHtml(register)}"`,
    ` broker="${escapeHtml(broker)}"`,
    tally === undefined ? '' : ` tally="${escapeHtml(tally)}"`,
    maySay ? ' may-say' : '',
  ].join('')
  const body = `<!doctype html>
<html lang="${lang}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<link rel="icon" href="icon.svg">
<link rel="manifest" href="manifest.webmanifest">
<link rel="stylesheet" href="page.css">
<script src="sash-tally.js" defer></script>
</head>
<body>
<sash-tally${attributes}>
<p lang="en">The wall of ${escapeHtml(title)} is being drawn. If these words stay: it takes JavaScript, and Chrome 105, Safari 16 or Firefox 110 at least.</p>
</sash-tally>
</body>
</html>
`
  return { type: 'text/html', body }
}

const PAGE_STYLE: PageFile = {
  type: 'text/css',
  body: 'html, body { margin: 0; height: 100%; }\nbody { font-family: sans-serif; }\nsash-tally { display: block; min-height: 100%; }\n',
}

/** A sash with its lower half raised. */
const PAGE_ICON: PageFile = {
  type: 'image/svg+xml',
  body: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><g fill="none" stroke="#2b3340" stroke-width="2"><path fill="#f7f4ea" d="M7 3h18v26H7z"/><path d="M7 16h18M16 3v13M4 29h24"/></g></svg>
`,
}

/**
 * The card, and the file that it loads where no keeper forecasts, by path.
 * @throws Stop where the package was not built
 */
export const cardFiles = async (world: World): Promise<[string, PageFile][]> =>
  Promise.all(
    ['sash-tally.js', 'sash-tally-forecast.js'].map(async (name): Promise<[string, PageFile]> => {
      const body = await readText(inPackage(`dist/${name}`), world)
      return [`/${name}`, { type: 'text/javascript', body }]
    }),
  )

const PAPER = '#f7f4ea'

/**
 * What the wall's page loads beside the card, by path. With the manifest a tablet can keep the wall on its home screen.
 * @see W3C Web Application Manifest, section 1 "Application manifest", for the members
 */
export const wallFiles = (title: string): [string, PageFile][] => [
  ['/page.css', PAGE_STYLE],
  ['/icon.svg', PAGE_ICON],
  [
    '/manifest.webmanifest',
    {
      type: 'application/manifest+json',
      body: JSON.stringify({
        name: title,
        short_name: title.slice(0, 12),
        start_url: './',
        display: 'standalone',
        background_color: PAPER,
        theme_color: PAPER,
        icons: [{ src: 'icon.svg', type: 'image/svg+xml', sizes: 'any', purpose: 'any' }],
      }),
    },
  ],
]
