import type { CSSResult } from 'lit'
import { drawingCss } from '../draw/style.ts'
import { tokensCss } from '../tokens.ts'
import { frameCss } from './frame.ts'
import { panelCss } from './panels.ts'
import { printCss } from './print.ts'
import { scheduleCss } from './schedule.ts'
import { sizesCss } from './sizes.ts'

export const styles: CSSResult[] = [tokensCss, frameCss, scheduleCss, panelCss, sizesCss, drawingCss, printCss]
