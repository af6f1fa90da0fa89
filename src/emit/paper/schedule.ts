import type { Opening, Register } from '../../register/types.ts'
import { escapeHtml, htmlPage } from '../../text/html.ts'

/** The window schedule as a drawing set has one: a row an opening. */
const COLUMNS: readonly { readonly title: string; readonly of: (opening: Opening) => string }[] = [
  { title: 'Mark', of: ({ mark }) => mark },
  { title: 'Name', of: ({ name }) => name },
  { title: 'Room', of: ({ room }) => room ?? '' },
  { title: 'Kind', of: ({ kind }) => kind },
  { title: 'Side', of: ({ at }) => at?.side ?? '' },
  { title: 'Floor', of: ({ at }) => (at === undefined ? '' : String(at.floor)) },
  { title: 'Contact', of: ({ sender }) => sender.name },
  { title: 'Reports', of: ({ sender }) => (sender.reports === 'both' ? 'both edges' : 'openings only') },
  { title: 'Power', of: ({ sender }) => sender.cell ?? 'mains' },
  { title: 'Cell fitted', of: ({ cellFitted }) => cellFitted ?? '' },
  { title: 'Topic', of: ({ topic }) => topic },
  { title: 'Client id', of: ({ client }) => client },
  { title: 'Revision', of: ({ revision }) => revision },
]

/**
 * The schedule as CSV with a header row.
 * A cell that a spreadsheet would take for a formula begins with an apostrophe (one more where it has some).
 * @see RFC 4180
 */
export function scheduleCsv({ openings }: Register): string {
  const rows = [COLUMNS.map(({ title }) => title), ...openings.map(opening => COLUMNS.map(({ of }) => of(opening)))]
  return rows.map(row => `${row.map(csvField).join(',')}\r\n`).join('')
}

function csvField(text: string): string {
  const safe = /^'*[=+\-@\t\r]/.test(text) ? `'${text}` : text
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}

const STYLE = `@page { size: A4 landscape; margin: 12mm }
body { font: 11px/1.35 "DejaVu Sans Condensed", "Liberation Sans Narrow", system-ui, sans-serif; color: #2b3440; margin: 12px }
h1 { font-size: 20px; font-weight: 400; margin: 0 0 8px }
table { border-collapse: collapse; width: 100%; border: 1.3px solid #2b3440 }
th, td { text-align: left; padding: 4px 6px; border: 0.6px solid #9aa3ab; overflow-wrap: anywhere; vertical-align: top }
thead { display: table-header-group }
th { font-weight: 400; font-size: 9px; letter-spacing: .08em; text-transform: uppercase; color: #5f6870; overflow-wrap: normal }
tr { break-inside: avoid }
td:first-child { white-space: nowrap }
p { color: #5f6870 }`

/** The schedule as a page to print. */
export function scheduleHtml(register: Register): string {
  const head = COLUMNS.map(({ title }) => `<th scope="col">${title}</th>`).join('')
  const body = register.openings
    .map(opening => `<tr>${COLUMNS.map(({ of }) => `<td>${escapeHtml(of(opening))}</td>`).join('')}</tr>`)
    .join('\n')
  const count = register.openings.length
  return htmlPage(
    `Window schedule, ${register.house}`,
    STYLE,
    `<h1>Window schedule, ${escapeHtml(register.house)}</h1>
<table>
<thead><tr>${head}</tr></thead>
<tbody>
${body}
</tbody>
</table>
<p>${count} ${count === 1 ? 'opening' : 'openings'}. A list of where a house opens is not for strangers: keep it inside.</p>`,
  )
}
