import client from '../../node_modules/mqtt/build/lib/client.js'
import connecting from '../../node_modules/mqtt/build/lib/connect/index.js'

const MqttClient = client.default ?? client
const connect = connecting.default ?? connecting
export { connect, MqttClient }
export default { connect, MqttClient }
