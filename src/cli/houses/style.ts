import { type Colours, FONTS, SHEETS } from '../../card/styles/colours.ts'

const inks = (colours: Colours): string =>
  Object.entries(colours)
    .map(([name, value]) => `--${name}: ${value};`)
    .join(' ')

/** The page of houses: a sheet as the wall is one. Every plate keeps its height, so that no news moves another. */
export const HOUSES_STYLE = `:root { ${inks(SHEETS.paper.day)} color-scheme: light; font-size: clamp(16px, 12px + 0.4vw, 22px); }
@media (prefers-color-scheme: dark) { :root { ${inks(SHEETS.blueprint.day)} color-scheme: dark; } }
* { box-sizing: border-box; margin: 0; }
body { padding: 0.5rem; background: var(--paper); color: var(--line); font: 0.94rem/1.35 ${FONTS}; }
main { min-height: calc(100vh - 1rem); padding: 1rem; border: 3px double var(--line); display: flex; flex-direction: column; }
h1 { font-size: 2.2rem; font-weight: 400; line-height: 1.1; }
p { display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2; overflow: hidden; overflow-wrap: anywhere; }
.summary { --lines: 2; -webkit-line-clamp: var(--lines); height: calc(1.35em * var(--lines) + 0.4rem); margin: 0.4rem 0; padding-top: 0.4rem; border-top: 1px solid var(--ghost); font-size: 1.06rem; }
.lost .summary { color: var(--open); }
ul { flex: 1; align-content: start; padding: 0; list-style: none; display: grid; gap: 0.75rem; grid-template-columns: repeat(auto-fit, minmax(min(19rem, 100%), 1fr)); }
li { position: relative; height: 12.8rem; padding: 0.6rem 0.75rem; background: var(--face); border: 1px solid var(--faint); border-inline-start: 6px solid var(--line); }
li.doubt { border-inline-start: 6px dotted var(--doubt); }
li.unseen { border-inline-start: 6px dashed var(--opened); }
h2, .name { overflow: hidden; text-overflow: ellipsis; white-space: nowrap; }
h2 { padding: 0.2rem 0; font-size: 1.06rem; font-weight: 400; }
.name { display: block; width: fit-content; max-width: 100%; padding: 0 0.6em; border: 1px solid var(--line); border-radius: 1em; font-size: 0.85rem; }
a { color: inherit; text-decoration-color: var(--faint); text-underline-offset: 0.2em; }
a::after { content: ''; position: absolute; inset: 0; }
a:focus-visible { outline: none; }
li:focus-within { outline: 3px solid var(--line); outline-offset: 2px; }
.headline { margin: 0.1rem 0 0.3rem; font-size: 1.45rem; line-height: 1.2; }
.unseen .headline { color: var(--opened); }
.doubt .headline { color: var(--doubt); }
.keeper { -webkit-line-clamp: 3; }
.cell, .keeper, footer { color: var(--note); }
.deaf .keeper { color: var(--open); }
.lost .keeper { visibility: hidden; }
footer { margin-top: 1rem; padding-top: 0.4rem; border-top: 1px solid var(--line); }
@media (max-width: 40rem) { li { height: 14.8rem; } main { padding: 0.6rem; } h1 { font-size: 1.7rem; } .summary { --lines: 5; } }
@media print { li { break-inside: avoid; } }
`

/** The page around a wall: the way back has a margin of its own, at the side where the wall is wider than high. */
export const WAY_BACK_STYLE = `:root { ${inks(SHEETS.paper.day)} }
@media (prefers-color-scheme: dark) { :root { ${inks(SHEETS.blueprint.day)} } }
body { display: grid; grid: 44px minmax(0, 1fr) / 100%; }
nav { display: flex; background: var(--paper); font: 14px/1.3 ${FONTS}; }
nav a { display: flex; align-items: center; justify-content: center; gap: 0.4em; min-width: 44px; padding: 0 14px; color: var(--note); text-decoration: none; }
nav a:focus-visible { outline: 2px solid var(--line); outline-offset: -4px; }
@media (orientation: landscape) and (min-width: 600px) {
body { grid: 100% / 52px minmax(0, 1fr); }
nav a { flex: 1; flex-direction: column; gap: 0; height: 88px; padding: 0; font-size: 12px; }
nav span { font-size: 18px; }
}
@media print { body { display: block; } nav { display: none; } }
`
