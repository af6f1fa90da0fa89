/** What the browser runner gives every test file. */
declare function describe(name: string, tests: () => void): void
declare function it(name: string, test: () => void | Promise<void>): void
