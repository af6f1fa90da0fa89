// Takes pictures of every drawing into .tmp/draw/, to be looked at: node test/card/draw/shots.mjs [name-part]
import { mkdir, readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import { build } from 'esbuild'
import { openStage } from './browser.mjs'

const folder = new URL('../../../.tmp/draw/', import.meta.url)
await mkdir(folder, { recursive: true })
const only = process.argv[2] ?? ''
const stage = await openStage()
const shots = []
const bundled = fileURLToPath(new URL('parse.mjs', folder))
await build({
  entryPoints: [fileURLToPath(new URL('../../../src/register/parse.ts', import.meta.url))],
  bundle: true,
  format: 'esm',
  packages: 'external',
  outfile: bundled,
})
const { parseRegister } = await import(bundled)
const ropewalk = parseRegister(
  await readFile(new URL('../../../examples/ropewalk.yaml', import.meta.url), 'utf8'),
).register
const house = {
  sides: ropewalk.sides,
  floors: ropewalk.floors,
  roof: ropewalk.roof,
  openings: ropewalk.openings.map(({ mark, kind, at }) => ({ mark, kind, at })),
}
const evening = {
  D01: ['open', []],
  D02: ['open', []],
  W02: ['opened', []],
  W11: ['opened', ['low']],
  W21: ['opened', []],
  W09: ['closed', ['untested']],
  W23: ['no-word', ['untested']],
  W05: ['taken-closed', []],
  W12: ['taken-closed', []],
}
const readings = house.openings.map(({ mark }) => {
  const [position, doubts] = evening[mark] ?? ['closed', []]
  return [mark, { position, doubts }]
})
const sheets = ['paper', 'paper night', 'blueprint', 'blueprint night']
for (const sheet of sheets) {
  const name = sheet.replace(' ', '-')
  shots.push([`kinds-${name}`, { width: 640, height: 800, scale: 2 }, s => stage.kinds(s, 40), sheet])
  shots.push([
    `wall26-${name}`,
    { width: 870, height: 610, scale: 1 },
    (s, h) => stage.wall(s, ...h),
    sheet,
    ['house', 26, 'gable', 836, 580],
  ])
  shots.push([
    `ropewalk-${name}`,
    { width: 870, height: 610, scale: 1 },
    s => stage.draw(s, house, { width: 836, height: 580 }, readings),
    sheet,
  ])
  shots.push([`small-${name}`, { width: 640, height: 640, scale: 1.5 }, s => stage.small(s), sheet])
}
shots.push([
  'ropewalk-close',
  { width: 870, height: 610, scale: 2 },
  s => stage.draw(s, house, { width: 836, height: 580 }, readings),
  'paper',
])
shots.push(['kinds26-paper', { width: 420, height: 500, scale: 1 }, s => stage.kinds(s, 26), 'paper'])
shots.push(['doubts-paper', { width: 720, height: 620, scale: 2 }, s => stage.doubts(s, 40), 'paper'])
shots.push(['doubts26-blueprint', { width: 560, height: 430, scale: 2 }, s => stage.doubts(s, 26), 'blueprint'])
for (const roof of ['gable', 'hip', 'flat'])
  for (const count of [1, 5, 26, 60])
    shots.push([
      `house-${roof}-${count}`,
      { width: 870, height: 610, scale: 1 },
      (s, h) => stage.wall(s, ...h),
      'paper',
      ['house', count, roof, 836, 580],
    ])
shots.push([
  'house-gable-26-all',
  { width: 870, height: 610, scale: 1 },
  (s, h) => stage.wall(s, ...h),
  'blueprint',
  ['house', 26, 'gable', 836, 580, 'all'],
])
shots.push([
  'house-phone',
  { width: 320, height: 1200, scale: 2 },
  (s, h) => stage.wall(s, ...h),
  'paper',
  ['house', 26, 'gable', 296, undefined],
])
shots.push([
  'house-square',
  { width: 300, height: 300, scale: 2 },
  (s, h) => stage.wall(s, ...h),
  'paper',
  ['house', 26, 'gable', 276, 276],
])
shots.push([
  'house-wide',
  { width: 1920, height: 700, scale: 1 },
  (s, h) => stage.wall(s, ...h),
  'blueprint',
  ['house', 26, 'hip', 1890, 660],
])
for (const page of [0, 1])
  shots.push([
    `long-${page}`,
    { width: 870, height: 610, scale: 1 },
    (s, h) => stage.wall(s, ...h),
    'paper',
    ['house', 80, 'long', 836, 580, 'noted', page],
  ])
shots.push([
  'forced',
  { width: 870, height: 610, scale: 1, forced: true },
  (s, h) => stage.wall(s, ...h),
  'paper',
  ['house', 60, 'hip', 836, 580],
])
for (const lack of ['achromatopsia', 'protanopia', 'deuteranopia', 'tritanopia'])
  for (const sheet of ['paper', 'blueprint'])
    shots.push([
      `lack-${lack}-${sheet}`,
      { width: 870, height: 610, scale: 1, lack },
      (s, h) => stage.wall(s, ...h),
      sheet,
      ['house', 26, 'gable', 836, 580],
    ])
for (const [name, view, draw, ...rest] of shots) {
  if (!name.includes(only)) continue
  const said = await stage.shoot(fileURLToPath(new URL(`${name}.png`, folder)), view, draw, ...rest)
  console.log(name, said ?? '')
}
await stage.close()
