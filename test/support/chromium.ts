import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import puppeteer, { type Browser } from 'puppeteer-core'
import { needs, programPath } from './missing.ts'

/** Skips, with the reason, where the browser is not installed. */
export const haveChromium = needs('chromium')

export interface Chromium {
  readonly browser: Browser
  /** Ends the browser and removes its profile. */
  close(): Promise<void>
}

/** A real browser, headless, with a profile of its own that outlives its pages. */
export async function startChromium(args: readonly string[] = []): Promise<Chromium> {
  const program = programPath('chromium')
  if (!program) throw new Error('chromium is not installed: apt-get install chromium')
  const profile = await mkdtemp(join(tmpdir(), 'sashtally-chromium-'))
  const browser = await puppeteer.launch({
    executablePath: program,
    userDataDir: profile,
    args: [
      ...(process.getuid?.() === 0 ? ['--no-sandbox'] : []),
      '--disable-dev-shm-usage',
      '--disable-gpu',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      ...args,
    ],
  })
  return {
    browser,
    async close() {
      await browser.close()
      await rm(profile, { recursive: true, force: true, maxRetries: 5 })
    },
  }
}
