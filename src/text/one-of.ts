/** The wished text where it is one of these; else the first of them. */
export const oneOf = <const T extends string>(all: readonly [T, ...T[]], wished: string | null): T =>
  all.find(each => each === wished) ?? all[0]
