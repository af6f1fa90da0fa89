import Duplex from 'readable-stream/lib/internal/streams/duplex.js'
import Readable from 'readable-stream/lib/internal/streams/readable.js'
import Transform from 'readable-stream/lib/internal/streams/transform.js'
import Writable from 'readable-stream/lib/internal/streams/writable.js'

export { Duplex, Readable, Transform, Writable }
