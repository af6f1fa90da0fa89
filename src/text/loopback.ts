/** True for an address of this same machine, and for the name that always is one; an IPv6 address may stand in brackets. */
export const isLoopbackAddress = (host: string): boolean => /^(?:localhost|127(?:\.\d{1,3}){3}|::1|\[::1\])$/.test(host)
