import { escapeHtml } from '../../text/html.ts'
import { inPackage } from '../files/in-package.ts'
import { readText } from '../files/read-write.ts'
import type { World } from '../world.ts'
import { iconPng, iconSvg, PAPER } from './icon.ts'
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
  /** What is said at this wall is signed so. */
  readonly by?: string | undefined
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
  by,
  lang = 'en',
}: WallOptions): PageFile & { readonly body: string } {
  const attributes = [
    register === undefined ? '' : ` register="${escapeHtml(register)}"`,
    ` broker="${escapeHtml(broker)}"`,
    tally === undefined ? '' : ` tally="${escapeHtml(tally)}"`,
    maySay ? ' may-say' : '',
    by === undefined ? '' : ` by="${escapeHtml(by)}"`,
  ].join('')
  const body = `<!doctype html>
<html lang="${lang}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<link rel="icon" href="icon.svg">
<link rel="apple-touch-icon" href="icon-192.png">
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

/** Pixels a unit of the icons for home screens, by the side that they come to. */
const ICONS = { 192: 6, 512: 16 } as const

/**
 * What the wall's page loads beside the card, by path. With the manifest a tablet can keep the wall on its home screen.
 * @see W3C Web Application Manifest, section 1 "Application manifest", for the members
 */
export const wallFiles = (title: string): [string, PageFile][] => [
  ['/page.css', PAGE_STYLE],
  ['/icon.svg', { type: 'image/svg+xml', body: iconSvg() }],
  ...Object.entries(ICONS).map(([side, scale]): [string, PageFile] => [
    `/icon-${side}.png`,
    { type: 'image/png', body: iconPng(scale) },
  ]),
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
        icons: [
          { src: 'icon.svg', type: 'image/svg+xml', sizes: 'any' },
          ...Object.keys(ICONS).map(side => ({ src: `icon-${side}.png`, type: 'image/png', sizes: `${side}x${side}` })),
        ],
      }),
    },
  ],
]
