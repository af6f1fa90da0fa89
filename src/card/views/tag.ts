import { html, type TemplateResult } from 'lit'
import { tagForm } from '../draw/opening.ts'
import type { CardOpening } from '../state/house.ts'

/** Class of a mark in a list: its tag has the corners that it has in the drawing. */
export const tagClass = (opening: Pick<CardOpening, 'kind'> | undefined): string =>
  `tag ${tagForm(opening?.kind ?? 'window')}`

export const tag = (mark: string, opening: Pick<CardOpening, 'kind'> | undefined): TemplateResult =>
  html`<span class=${tagClass(opening)}>${mark}</span>`
