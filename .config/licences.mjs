// The licences of what the one-file card holds, as their texts ask: they travel with every copy.
import { readdirSync, readFileSync } from 'node:fs'

/**
 * Names of the packages of which something is left in a bundle.
 * @param modules - rollup's, by path
 */
export function bundledPackages(modules) {
  const names = new Set()
  for (const [id, { renderedLength }] of Object.entries(modules)) {
    const name = /node_modules\/((?:@[^/]+\/)?[^/]+)\/(?!.*node_modules\/)/.exec(id)?.[1]
    if (name && renderedLength > 0) names.add(name)
  }
  return [...names].sort()
}

/** A package's licence: the lines that name its holders, and the text without them and without its title. */
function licenceIn(folder) {
  const { name, version, license } = JSON.parse(readFileSync(`${folder}/package.json`, 'utf8'))
  const file = readdirSync(folder).find(each => /^licen[cs]e(\.\w+)?$/i.test(each))
  if (!file) throw new Error(`${name} brings no text of its licence (${license}): it cannot be bundled`)
  const lines = readFileSync(`${folder}/${file}`, 'utf8').split(/\r?\n/)
  const holders = lines.filter(line => /^\s*copyright\s/i.test(line)).map(line => line.trim())
  if (holders.length === 0) throw new Error(`${folder}/${file} names no holder of the copyright`)
  const rest = lines.filter(line => !/^\s*copyright\s/i.test(line) && !/^\s*(the )?[\w\s-]*licen[cs]e( \(\w+\))?\s*$/i.test(line))
  const text = rest
    .join('\n')
    .split(/\n\s*\n/)
    .map(paragraph => paragraph.replace(/\s+/g, ' ').trim())
    .filter(Boolean)
    .join('\n')
  return { name, version, license, holders, text }
}

/**
 * One comment with every licence: a text once, with all that it is for.
 * @param folders - of the packages; a package that brings no text of its licence, or no holder, is an Error
 */
export function licenceComment(folders) {
  const byText = new Map()
  for (const licence of folders.map(licenceIn)) {
    byText.set(licence.text, [...(byText.get(licence.text) ?? []), licence])
  }
  const parts = [...byText].map(([text, all]) => {
    const named = all.map(({ name, version, license }) => `${name} ${version} (${license})`).join(', ')
    return `${named}\n${[...new Set(all.flatMap(({ holders }) => holders))].join('\n')}\n${text}`
  })
  const comment = parts.join('\n\n')
  if (comment.includes('*/')) throw new Error('a licence would end the comment that holds it')
  return `/*!\n${comment}\n*/`
}
