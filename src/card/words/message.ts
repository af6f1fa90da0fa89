/** A sentence; with forms for one and for many where it counts something. */
export type Message = string | { readonly one: string; readonly other: string }
