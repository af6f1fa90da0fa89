/** Runs in the browser, on the page around a wall: the way back follows the colours of the sheet, which dims at night. */
const sheet = document.querySelector('sash-tally')?.shadowRoot?.querySelector('.sheet')
const { style } = document.documentElement

function follow(of: Element): void {
  const inks = getComputedStyle(of)
  for (const ink of ['paper', 'note', 'line']) style.setProperty(`--${ink}`, inks.getPropertyValue(`--ink-${ink}`))
}

if (sheet) {
  follow(sheet)
  new MutationObserver(() => follow(sheet)).observe(sheet, { attributeFilter: ['class'] })
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => follow(sheet))
}
