/** What is done for an effect of each kind. */
export type Handlers<Effect extends { readonly kind: string }> = {
  readonly [Kind in Effect['kind']]: (effect: Extract<Effect, { readonly kind: Kind }>) => void
}
