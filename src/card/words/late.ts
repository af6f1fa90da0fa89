/** Made when it is first asked for: the first use of Intl costs a page as much as a drawing. */
export function late<T>(make: () => T): () => T {
  let made: { readonly it: T } | undefined
  return () => {
    made ??= { it: make() }
    return made.it
  }
}
