// The mqtt package for a page: its client over the browser's WebSocket.
import client from '../../node_modules/mqtt/build/lib/client.js'
import packets from '../../node_modules/mqtt-packet/mqtt.js'
import { SocketStream } from './streams.mjs'

// No table of 65,536 numbers in the memory of a tablet.
packets.writeToStream.cacheNumbers = false

export const MqttClient = client.default ?? client

export function connect(url, options) {
  const open = options.createWebsocket ?? ((url, protocols) => new WebSocket(url, protocols))
  return new MqttClient(() => new SocketStream(open(url, ['mqtt'], options)), options)
}

export default { connect, MqttClient }
