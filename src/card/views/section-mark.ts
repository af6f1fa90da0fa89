import { html, type TemplateResult } from 'lit'

/** A circle with a flag: where the drawing goes on. */
export const sectionMark = (sheet: string): TemplateResult =>
  html`<svg class="drawing mark" aria-hidden="true" viewBox="0 0 40 32">
    <path class="solid" d="M27 6L39 16L27 26Z"></path><path class="slope edge" d="M2 16a14 14 0 1 0 28 0a14 14 0 1 0-28 0Z"></path>
    <text x="16" y="21" text-anchor="middle">${sheet}</text>
  </svg>`
