export declare function serveStage(): Promise<{ readonly origin: string; close(): void }>
