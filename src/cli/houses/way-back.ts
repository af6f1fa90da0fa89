/** Runs in the browser, on the page around a wall: the way back follows the colours of the sheet, which dims at night. */
await customElements.whenDefined('sash-tally')
const wall = document.querySelector('sash-tally')?.shadowRoot
const { style } = document.documentElement

function follow(of: Element): void {
  const inks = getComputedStyle(of)
  for (const ink of ['paper', 'note', 'line']) style.setProperty(`--${ink}`, inks.getPropertyValue(`--ink-${ink}`))
}

/** @returns false where the wall has not drawn its sheet yet */
function begin(): boolean {
  const sheet = wall?.querySelector('.sheet')
  if (!sheet) return false
  follow(sheet)
  new MutationObserver(() => follow(sheet)).observe(sheet, { attributeFilter: ['class'] })
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => follow(sheet))
  return true
}

if (wall && !begin()) {
  const drawing = new MutationObserver(() => {
    if (begin()) drawing.disconnect()
  })
  drawing.observe(wall, { childList: true, subtree: true })
}

// A module: what it names is its own.
export {}
