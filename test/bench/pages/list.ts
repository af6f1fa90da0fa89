// A reference: the card's own sheet put in as a string, its rows kept up to date by hand, without a framework.
import mqtt from 'mqtt'

interface Row {
  readonly item: HTMLElement
  readonly say: HTMLElement
  readonly place: number
  word: string
  at: number
}

const clock = new Intl.DateTimeFormat('en-GB', { timeZone: 'Europe/Lisbon', hour: '2-digit', minute: '2-digit' })
const relative = new Intl.RelativeTimeFormat('en', { style: 'short', numeric: 'auto' })
const urgency = { ajar: 0, lost: 1, '': 2, shut: 3 } as Record<string, number>
const byUrgency = (a: Row, b: Row) =>
  urgency[a.word]! - urgency[b.word]! || (a.word === 'ajar' ? a.at - b.at : 0) || a.place - b.place

async function start(): Promise<void> {
  const { html, waiting, css } = await (await fetch('sheet.json')).json()
  const host = document.querySelector('sash-tally') as HTMLElement
  const root = host.attachShadow({ mode: 'open' })
  const style = new CSSStyleSheet()
  style.replaceSync(css)
  root.adoptedStyleSheets = [style]
  root.innerHTML = waiting
  await new Promise(done => requestAnimationFrame(() => setTimeout(done)))
  void host.offsetHeight
  const began = performance.now()
  root.innerHTML = html
  void host.offsetHeight
  window.drawn = [performance.now() - began]

  const list = root.querySelector('.rows')!
  const [headline, count] = [root.querySelector('.headline b')!, root.querySelector('.counts .open b')!]
  const [act, link] = [root.querySelector('.house-box .nothing-to-say')!, root.querySelector('.link')!]
  const rows = new Map<string, Row>()
  for (const [place, item] of [...list.querySelectorAll<HTMLElement>('.row')].entries()) {
    const mark = item.querySelector<HTMLElement>('.row-open')!.dataset.mark!.toLowerCase()
    const say = item.querySelector<HTMLElement>('.say')!
    rows.set(`ropewalk/${mark}`, { item, say, place, word: '', at: 0 })
  }
  window.painted = []
  window.renders = 0
  const changed = new Set<Row>()
  const frame = () => {
    const began = performance.now()
    for (const { item, say, word, at } of changed) {
      item.className = word === 'ajar' ? 'row open' : 'row quiet'
      say.textContent = word === 'lost' ? 'silent' : `${word === 'ajar' ? 'open since' : 'closed'} ${clock.format(at)}`
    }
    let open = 0
    let after: Element | null = null
    // The rows that did not change are in order among themselves: only the others may have to move.
    for (const row of [...rows.values()].sort(byUrgency).reverse()) {
      if (row.word === 'ajar') open++
      if (changed.has(row) && row.item.nextElementSibling !== after) list.insertBefore(row.item, after)
      after = row.item
    }
    // All that the card's sheet says of it.
    headline.textContent = count.textContent = String(open)
    act.innerHTML = act.innerHTML.replace(/Shut the \d+/, `Shut the ${open}`)
    link.textContent = `live, last word ${relative.format(0, 'second')}`
    window.renders++
    if (window.measures) void host.offsetHeight
    window.drawn.push(performance.now() - began)
    for (const { item, say } of changed) {
      const mark = item.querySelector<HTMLElement>('.row-open')!.dataset.mark
      if (mark === query.get('watch')) {
        setTimeout(() => window.painted.push({ text: say.textContent ?? '', at: Date.now() }))
      }
    }
    changed.clear()
  }
  const query = new URLSearchParams(location.search)
  const client = mqtt.connect(query.get('broker')!, { timerVariant: 'native', clientId: 'list' })
  client.on('message', (topic: string, payload: Uint8Array) => {
    const row = rows.get(topic)
    if (!row) return
    const word = new TextDecoder().decode(payload)
    if (word !== row.word) row.at = Date.now()
    row.word = word
    if (changed.size === 0) requestAnimationFrame(frame)
    changed.add(row)
  })
  client.on('connect', () => client.subscribe([...rows.keys()], () => document.body.classList.add('live')))
}
void start()
