import { addressesOf } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
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
  /** Where the files lie that walls share, as the page writes it; default: beside it. */
  readonly shared?: string
  /** What the page of houses is called, for a way back to it where the files lie that walls share. */
  readonly houses?: string | undefined
  /** One line over the wall. */
  readonly note?: string
}

/**
 * The register's addresses of the broker that a wall's page gives to the card, or why there is none.
 * @param isOverTls - the page is
 */
export function wallBroker(
  { broker }: Pick<Register, 'broker'>,
  isOverTls: boolean,
): { readonly url: string } | { readonly why: string } {
  const url = addressesOf(broker, 'websocket').join(' ')
  if (url === '')
    return {
      why: "the register names no WebSocket address, and a page can use no other: add broker: { websocket: 'ws://…' }",
    }
  if (isOverTls && url.startsWith('ws:'))
    return { why: `a page on https cannot open ${url}: give the broker TLS too and write wss://` }
  return { url }
}

/** The query of an address whose wall signs what is said there. */
const signedBy = (by: string | undefined): string => (by === undefined ? '' : `?by=${encodeURIComponent(by)}`)

/** The page that shows the card and nothing else. */
export function wallPage({
  title,
  broker,
  register,
  tally,
  maySay,
  by,
  lang = 'en',
  shared = '',
  houses,
  note,
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
<link rel="icon" href="${shared}icon.svg">
<link rel="apple-touch-icon" href="${shared}icon-192.png">
<link rel="manifest" href="manifest.webmanifest${signedBy(by)}">
<link rel="stylesheet" href="${shared}page.css">
<script src="${shared}sash-tally.js" defer></script>
${houses === undefined ? '' : `<link rel="stylesheet" href="${shared}way-back.css">\n<script src="${shared}way-back.js" type="module"></script>\n`}</head>
<body>
${houses === undefined ? '' : `<nav><a href="${shared}"><span aria-hidden="true">←</span> ${escapeHtml(houses)}</a></nav>\n`}${note === undefined ? '' : `<p>${escapeHtml(note)}</p>\n`}<sash-tally${attributes}>
<p lang="en">The wall of ${escapeHtml(title)} is being drawn. If these words stay: it takes JavaScript, and Chrome 105, Safari 16 or Firefox 110 at least.</p>
</sash-tally>
</body>
</html>
`
  return { type: 'text/html', body }
}

const PAGE_STYLE: PageFile = {
  type: 'text/css',
  body: 'html, body { margin: 0; height: 100%; }\nbody { display: flex; flex-direction: column; font-family: sans-serif; }\nbody > p { margin: 0; padding: 4px 12px; font-size: 13px; }\nsash-tally { flex: auto; min-height: 0; }\n',
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

/** What the pages of walls share, by path. */
export const sharedFiles = (): [string, PageFile][] => [
  ['/page.css', PAGE_STYLE],
  ['/icon.svg', { type: 'image/svg+xml', body: iconSvg() }],
  ...Object.entries(ICONS).map(([side, scale]): [string, PageFile] => [
    `/icon-${side}.png`,
    { type: 'image/png', body: iconPng(scale) },
  ]),
]

/**
 * With it a tablet can keep a page on its home screen, with who says what is said there.
 * @param titleIn - the page's title in a language
 * @param shared - where the icons lie, as the manifest writes it; what lies there is of the same application
 * @see W3C Web Application Manifest, section 1 "Application manifest", for the members
 */
export const manifest = (titleIn: (lang: Lang) => string, shared = ''): PageFile => ({
  type: 'application/manifest+json',
  body: ({ by, lang }) =>
    JSON.stringify({
      name: titleIn(lang),
      short_name: titleIn(lang).slice(0, 12),
      start_url: `./${signedBy(by)}`,
      scope: shared || './',
      display: 'standalone',
      background_color: PAPER,
      theme_color: PAPER,
      icons: [
        { src: `${shared}icon.svg`, type: 'image/svg+xml', sizes: 'any' },
        ...Object.keys(ICONS).map(side => ({
          src: `${shared}icon-${side}.png`,
          type: 'image/png',
          sizes: `${side}x${side}`,
        })),
      ],
    }),
})

/** What the page of one wall loads beside the card, by path. */
export const wallFiles = (title: string): [string, PageFile][] => [
  ...sharedFiles(),
  ['/manifest.webmanifest', manifest(() => title)],
]
