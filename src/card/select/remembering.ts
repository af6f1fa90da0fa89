/**
 * A function that remembers its last answer, and gives it again for the same inputs. Make one for each card: two cards
 * on a page must not push each other's answer out.
 */
export function remembering<Inputs extends readonly unknown[], Made>(
  make: (...inputs: Inputs) => Made,
): (...inputs: Inputs) => Made {
  let last: { readonly inputs: Inputs; readonly made: Made } | undefined
  return (...inputs) => {
    const before = last
    if (before && inputs.every((each, index) => each === before.inputs[index])) return before.made
    const made = make(...inputs)
    last = { inputs, made }
    return made
  }
}
