import type { CSSResult } from 'lit'
import { drawingCss } from '../draw/style.ts'
import { controlsCss } from './controls.ts'
import { frameCss } from './frame.ts'
import { headCss } from './head.ts'
import { panelCss } from './panels.ts'
import { printCss } from './print.ts'
import { scheduleCss } from './schedule.ts'
import { sizesCss } from './sizes.ts'
import { tagsCss } from './tags.ts'
import { tokensCss } from './tokens.ts'
import { walksCss } from './walks.ts'
import { wallCss } from './wall.ts'

export const styles: CSSResult[] = [
  tokensCss,
  frameCss,
  headCss,
  controlsCss,
  scheduleCss,
  tagsCss,
  panelCss,
  walksCss,
  sizesCss,
  wallCss,
  drawingCss,
  printCss,
]
