/** Text for an element or a quoted attribute of HTML or SVG; control characters that XML forbids are left out. */
export const escapeHtml = (text: string): string =>
  text
    // biome-ignore lint/suspicious/noControlCharactersInRegex: XML 1.0, section 2.2 forbids them
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '')
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;')
    // A bare carriage return would be read as a line feed.
    .replaceAll('\r', '&#13;')

/** A whole page that loads nothing: its policy allows its own style and no script. */
export const htmlPage = (title: string, style: string, body: string): string => `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<style>
${style}
</style>
</head>
<body>
${body}
</body>
</html>
`
