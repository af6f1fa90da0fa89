// A reference: a stock MQTT client and one text node, drawn in the next frame.
import mqtt from 'mqtt'

const query = new URLSearchParams(location.search)
const client = mqtt.connect(query.get('broker')!, { timerVariant: 'native', clientId: 'bare' })
const text = document.createTextNode('no word yet')
document.body.append(text)
window.painted = []
client.on('message', (_topic: string, payload: Uint8Array) => {
  requestAnimationFrame(() => {
    text.data = new TextDecoder().decode(payload)
    setTimeout(() => window.painted.push({ text: text.data, at: Date.now() }))
  })
})
client.on('connect', () => client.subscribe('ropewalk/d0', () => document.body.classList.add('live')))
