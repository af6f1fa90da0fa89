import type { CSSResult } from 'lit'
import { drawingCss } from '../draw/style.ts'
import { controlsCss } from './controls.ts'
import { frameCss } from './frame.ts'
import { panelCss } from './panels.ts'
import { printCss } from './print.ts'
import { scheduleCss } from './schedule.ts'
import { sizesCss } from './sizes.ts'
import { tokensCss } from './tokens.ts'

export const styles: CSSResult[] = [
  tokensCss,
  frameCss,
  controlsCss,
  scheduleCss,
  panelCss,
  sizesCss,
  drawingCss,
  printCss,
]
