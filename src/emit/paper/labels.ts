import { encode } from 'uqr'
import type { Opening, Register, Sender } from '../../register/types.ts'
import { mayBeCoin } from '../../text/cautions.ts'
import { escapeHtml, htmlPage } from '../../text/html.ts'
import { gridFault, LABEL_GRID, type LabelGrid, labelSize, PAPERS } from './label-grid.ts'

/**
 * Height of the cautions' letters, millimetres: small letters of the sheet's fonts are half as high, 1.2 mm, which is
 * the least that Regulation (EU) 1169/2011, Article 13, asks of print that must be read (from memory).
 */
export const CAUTION_MILLIMETRES = 2.4

const SPENT = 'Old cell: tape the poles, no fire, collection point.'
const NO_GUARD = 'No alarm, no guard against falls.'
const MAGNET = 'Swallowed, the magnet kills: doctor now.'

/** What somebody who opens this contact must know, by what feeds it; a line each, the worst first. */
export function labelCautions({ power, cell = '' }: Sender): readonly string[] {
  if (power === 'mains')
    return [MAGNET, 'Mains only from a closed, approved supply.', '3.3 V only: 5 V destroys the module.', NO_GUARD]
  if (!mayBeCoin(cell))
    return [MAGNET, 'Never charge or solder a cell; mind the poles.', SPENT, `3.3 V only. ${NO_GUARD}`]
  return [
    'Swallowed, cell or magnet kills: doctor now.',
    'Lid needs a tool. Never charge or solder the cell.',
    SPENT,
    `3.3 V only. ${NO_GUARD}`,
  ]
}

/** Sheets of labels, each one SVG document in millimetres. */
export function labelSheets(register: Register, grid: LabelGrid = LABEL_GRID): readonly string[] {
  const fault = gridFault(grid)
  if (fault) throw new RangeError(fault)
  const { width, height } = PAPERS[grid.paper]
  const size = labelSize(grid)
  const perSheet = grid.columns * grid.rows
  const sheets: string[] = []
  for (let first = 0; first < register.openings.length; first += perSheet) {
    const labels = register.openings.slice(first, first + perSheet).map((opening, index) => {
      const x = grid.marginMillimetres + (index % grid.columns) * (size.width + grid.gapMillimetres)
      const y = grid.marginMillimetres + Math.floor(index / grid.columns) * (size.height + grid.gapMillimetres)
      return label(opening, register, x, y, size.width, size.height)
    })
    sheets.push(
      `<svg xmlns="http://www.w3.org/2000/svg" width="${width}mm" height="${height}mm" viewBox="0 0 ${width} ${height}" font-family="'Liberation Sans Narrow', 'DejaVu Sans Condensed', sans-serif">\n${labels.join('\n')}\n</svg>`,
    )
  }
  return sheets
}

/** A page with every sheet, to print at full size. */
export function labelPage(register: Register, grid: LabelGrid = LABEL_GRID): string {
  const { width, height } = PAPERS[grid.paper]
  const style = `@page { size: ${width}mm ${height}mm; margin: 0 }\nbody { margin: 0 }\nsvg { display: block; break-after: page }`
  return htmlPage(`Labels, ${register.house}`, style, labelSheets(register, grid).join('\n'))
}

function label(opening: Opening, register: Register, x: number, y: number, width: number, height: number): string {
  const qr = 18
  const left = qr + 5
  const room = width - left - 2
  const lines = [
    { size: 5.2, weight: 'bold', text: opening.mark },
    { size: 3.4, weight: 'normal', text: opening.name },
    { size: 2.6, weight: 'normal', text: `client id ${opening.client}` },
    { size: 2.6, weight: 'normal', text: cellLine(opening) },
    ...(opening.sender.power === 'cell'
      ? [{ size: 2.6, weight: 'normal', text: `fitted ${opening.cellFitted ?? '____________'}   next ____________` }]
      : []),
  ]
  let baseline = 1
  const texts = lines.map(({ size, weight, text }) => {
    baseline += size * 1.25
    return line(left, baseline, size, weight, text, room)
  })
  const cautions = labelCautions(opening.sender)
  const cautionTexts = cautions.map((text, index) => {
    const up = (cautions.length - 1 - index) * CAUTION_MILLIMETRES * 1.12
    const [weight, letter] = index === 0 ? ['bold', 0.53] : ['normal', 0.45]
    return line(2, height - 1.6 - up, CAUTION_MILLIMETRES, weight, text, width - 4, letter)
  })
  return `<g transform="translate(${round(x)} ${round(y)})"><title>${escapeHtml(`${opening.mark}, ${register.house}`)}</title>
<rect x="0.1" y="0.1" width="${round(width - 0.2)}" height="${round(height - 0.2)}" rx="1.5" fill="#fff" stroke="#2b3440" stroke-width="0.2"/>
${qrCode(opening.mark, 2, 2, qr)}
${[...texts, ...cautionTexts].join('\n')}
</g>`
}

const cellLine = ({ sender }: Opening): string =>
  sender.power === 'mains' ? 'mains supply, 3.3 V at the module' : `${sender.cell ?? 'cell'}, + to lid [ ] away [ ]`

/** Text set smaller when it would not fit its room; half its size is a condensed letter and more, a wide sign is two. */
function line(x: number, y: number, size: number, weight: string, text: string, room: number, letter = 0.5): string {
  const letters = [...text].reduce((sum, sign) => sum + (sign > '\u2e7f' ? 2 : 1), 0)
  const fitting = Math.min(size, room / (letters * letter))
  const bold = weight === 'bold' ? ' font-weight="bold"' : ''
  return `<text x="${round(x)}" y="${round(y)}" font-size="${round(fitting)}"${bold} fill="#2b3440">${escapeHtml(text)}</text>`
}

/** QR code (ISO/IEC 18004) of the mark, with its quiet zone of four modules inside `size`. */
function qrCode(mark: string, x: number, y: number, size: number): string {
  const { data, size: modules } = encode(mark, { ecc: 'M', border: 4 })
  const unit = size / modules
  const path = data.flatMap((row, i) => row.flatMap((dark, j) => (dark ? [`M${j} ${i}h1v1h-1z`] : []))).join('')
  return `<path transform="translate(${x} ${y}) scale(${unit.toFixed(5)})" d="${path}" fill="#000" shape-rendering="crispEdges"/>`
}

const round = (value: number): number => Math.round(value * 100) / 100
