import { wordsFor } from '../../card/words/words.ts'
import { escapeHtml } from '../../text/html.ts'
import type { Lang } from '../tally/wishes.ts'
import type { Plate } from './plate.ts'
import type { HousesNote } from './plates.ts'
import { HOUSES_WORDS } from './words.ts'

/** Path of a house's wall below the page of houses. */
export const wallPath = (name: string): string => `${encodeURIComponent(name)}/`

/**
 * The page of houses, each text in a slot of its own that the page's script fills anew. As it is sent it says nothing
 * that holds only while it is live.
 */
export function housesPage({ lost, plates, frame }: HousesNote, lang: Lang): string {
  const words = wordsFor([lang])
  const own = HOUSES_WORDS[lang]
  return `<!doctype html>
<html lang="${lang}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${own.title}</title>
<link rel="icon" href="icon.svg">
<link rel="apple-touch-icon" href="icon-192.png">
<link rel="manifest" href="manifest.webmanifest">
<link rel="stylesheet" href="houses.css">
<script src="houses.js" type="module"></script>
</head>
<body class="lost">
<main>
<h1>${own.title}</h1>
<p class="summary" role="status">${escapeHtml(lost)}</p>
<noscript><p>${own.noScript}</p></noscript>
<ul data-frame="${frame}">
${plates.map(plateHtml).join('\n')}
</ul>
<footer>${words.say('notAlarm')} ${words.say('strangers')}</footer>
</main>
</body>
</html>
`
}

function plateHtml(plate: Plate): string {
  const { name, title, hasWall, tone } = plate
  const text = escapeHtml(title)
  return `<li class="${tone === 'shut' ? 'doubt' : tone}">
<span class="name">${escapeHtml(name)}</span>
<h2>${hasWall ? `<a href="${wallPath(name)}">${text}</a>` : text}</h2>
<p class="headline">${escapeHtml(plate.headlineLost)}</p>
<p class="cell">${escapeHtml(plate.cell)}</p>
<p class="keeper"><span>${escapeHtml(plate.keeper)}</span> <small>${escapeHtml(plate.problem)}</small></p>
</li>`
}
