// The references: a page with a stock MQTT client and one text node, and the same list written by hand.
import mqtt from 'mqtt'

declare global {
  interface Window {
    painted: { topic: string; word: string; at: number }[]
    gaps: number[]
  }
}

const params = new URLSearchParams(location.search)
const openings = Number(params.get('openings') ?? 1)
const client = mqtt.connect(params.get('broker')!, {
  timerVariant: 'native',
  clientId: `bare${Math.random().toString(36).slice(2, 12)}`,
})

interface Row {
  readonly item: HTMLLIElement
  readonly text: Text
  word: string
  at: number
}
const list = document.createElement('ul')
document.body.append(list)
const rows = new Map<string, Row>()
for (let n = 0; n < openings; n++) {
  const item = document.createElement('li')
  const tag = document.createElement('b')
  tag.textContent = `D${n}`
  const name = document.createElement('span')
  name.textContent = ` Door ${n} `
  const text = document.createTextNode('no word yet')
  item.append(tag, name, text)
  list.append(item)
  rows.set(`ropewalk/d${n}`, { item, text, word: '', at: 0 })
}

window.painted = []
const changed = new Set<string>()
let asked = false
function frame(): void {
  asked = false
  const topics = [...changed]
  changed.clear()
  for (const topic of topics) {
    const row = rows.get(topic)!
    row.text.data =
      row.word === 'ajar'
        ? `open since ${new Date(row.at).toLocaleTimeString()}`
        : `closed ${new Date(row.at).toLocaleTimeString()}`
  }
  // What is open comes first, the newest on top, as in the schedule.
  const order = [...rows.values()].sort((a, b) => Number(b.word === 'ajar') - Number(a.word === 'ajar') || b.at - a.at)
  let place = list.firstElementChild
  for (const { item } of order) {
    if (item === place) place = place.nextElementSibling
    else list.insertBefore(item, place)
  }
  setTimeout(() => {
    for (const topic of topics) window.painted.push({ topic, word: rows.get(topic)!.word, at: Date.now() })
  })
}
client.on('message', (topic: string, payload: Uint8Array) => {
  const row = rows.get(topic)
  if (!row) return
  row.word = new TextDecoder().decode(payload)
  row.at = Date.now()
  changed.add(topic)
  if (!asked) {
    asked = true
    requestAnimationFrame(frame)
  }
})
client.on('connect', () => client.subscribe([...rows.keys()], () => document.body.classList.add('live')))
