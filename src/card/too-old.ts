import { wordsFor } from './words/words.ts'

/** Container queries are the newest thing that the sheet cannot do without. */
export const isTooOld = (): boolean => !CSS.supports('container-type: inline-size')

/** Stands for the wall in a browser that cannot draw it. */
export class TooOld extends HTMLElement {
  connectedCallback(): void {
    const page = this.closest('[lang]')?.getAttribute('lang')
    const sentence = document.createElement('p')
    sentence.textContent = wordsFor([page, navigator.language]).say('tooOld')
    this.replaceChildren(sentence)
  }
}
