// An event emitter as MQTT's client and parser use it; listeners are made on first use, for mixins without constructor.
export class EventEmitter {
  on(name, listener) {
    this._listeners ??= new Map()
    const list = this._listeners.get(name)
    if (list) list.push(listener)
    else this._listeners.set(name, [listener])
    return this
  }
  once(name, listener) {
    const once = (...args) => {
      this.off(name, once)
      listener.apply(this, args)
    }
    once.listener = listener
    return this.on(name, once)
  }
  off(name, listener) {
    const list = this._listeners?.get(name) ?? []
    const index = list.findLastIndex(each => each === listener || each.listener === listener)
    if (index >= 0) this._listeners.set(name, list.toSpliced(index, 1))
    return this
  }
  emit(name, ...args) {
    const list = this._listeners?.get(name) ?? []
    if (name === 'error' && list.length === 0) throw args[0]
    for (const listener of [...list]) listener.apply(this, args)
    return list.length > 0
  }
  addListener(name, listener) {
    return this.on(name, listener)
  }
  removeListener(name, listener) {
    return this.off(name, listener)
  }
  removeAllListeners(name) {
    if (name === undefined) this._listeners?.clear()
    else this._listeners?.delete(name)
    return this
  }
  listenerCount(name) {
    return this._listeners?.get(name)?.length ?? 0
  }
  setMaxListeners() {
    return this
  }
}
export default EventEmitter
