import type { Page } from 'puppeteer-core'

export interface Stage {
  readonly page: Page
  kinds(sheet: string, unit: number): Promise<unknown>
  doubts(sheet: string, unit: number): Promise<unknown>
  cells(sheet: string, unit: number, width: number, height: number): Promise<unknown>
  small(sheet: string): Promise<unknown>
  wall(
    sheet: string,
    what: 'house',
    count: number,
    roof: string,
    width: number,
    height?: number,
    tags?: 'noted' | 'all',
    page?: number,
  ): Promise<{ shape: number; pages: number; cramped: boolean; height: number }>
  picked(): Promise<string[]>
  /** Directives of the content policy that the page has broken so far. */
  violations(): Promise<string[]>
  close(): Promise<void>
}
export function openStage(): Promise<Stage>
