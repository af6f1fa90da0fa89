const process = { nextTick: (run, ...args) => queueMicrotask(() => run(...args)), env: {} };
