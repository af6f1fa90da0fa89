/** Times its own length that the page is left alone after a drawing, and the longest, milliseconds. */
const [REST, LONGEST_REST] = [2, 200]

/** When a card may draw: at most once a frame, and after a costly one the page first gets on with what else it has to do. */
export class DrawingPace {
  #restUntil = 0

  async turn(): Promise<void> {
    const rest = this.#restUntil - performance.now()
    if (rest > 0) await new Promise(done => setTimeout(done, rest))
    await nextFrame()
    const began = performance.now()
    // Runs when this frame has been laid out and painted.
    setTimeout(() => {
      const now = performance.now()
      this.#restUntil = now + Math.min(LONGEST_REST, REST * (now - began))
    })
  }
}

/** The next frame, or 250 ms: a hidden page has no frames, and must not fall behind for it. */
function nextFrame(): Promise<void> {
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
