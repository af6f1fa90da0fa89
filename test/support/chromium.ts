import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import puppeteer, { type Browser, type Page } from 'puppeteer-core'
import { needs, programPath } from './missing.ts'

/** Skips, with the reason, where the browser is not installed. */
export const haveChromium = needs('chromium')

export interface Chromium {
  readonly browser: Browser
  /** A page whose waits are bounded only against what hangs. */
  newPage(): Promise<Page>
  /** Ends the browser and removes its profile. */
  close(): Promise<void>
}

const HANG_MILLISECONDS = 120_000

/** A real browser, headless, with a profile of its own that outlives its pages. */
export async function startChromium(args: readonly string[] = []): Promise<Chromium> {
  const program = programPath('chromium')
  if (!program) throw new Error('chromium is not installed: apt-get install chromium')
  const profile = await mkdtemp(join(tmpdir(), 'sashtally-chromium-'))
  const browser = await puppeteer.launch({
    executablePath: program,
    userDataDir: profile,
    timeout: HANG_MILLISECONDS,
    protocolTimeout: 10 * HANG_MILLISECONDS,
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
    async newPage() {
      const page = await browser.newPage()
      page.setDefaultTimeout(HANG_MILLISECONDS)
      return page
    },
    async close() {
      await browser.close()
      await rm(profile, { recursive: true, force: true, maxRetries: 5 })
    },
  }
}
