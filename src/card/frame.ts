/** The next frame, or 250 ms: a hidden page has no frames, and must not fall behind for it. */
export function nextFrame(): Promise<void> {
  return new Promise(done => {
    const finish = () => {
      clearTimeout(timer)
      cancelAnimationFrame(frame)
      done()
    }
    const timer = setTimeout(finish, 250)
    const frame = requestAnimationFrame(finish)
  })
}

/** Letters and digits, unlike any other: works where `crypto.randomUUID` is kept to https. */
export function freshId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(12))
  return `t${Array.from(bytes, byte => byte.toString(16).padStart(2, '0')).join('')}`
}
