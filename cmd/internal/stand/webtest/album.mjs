// album.mjs ADDRESS N: N pages, one after the other, each looked at as it is engraved.
import { act, check, done, engraved, launch, look, sizes } from './browser.mjs'

const [address, n] = process.argv.slice(2)
const { browser, open } = await launch()
const all = Object.entries(sizes)
const page = await open(address, all[0][1])
let lines = 0, heads = 0, words = 0
for (let i = 0; i < Number(n); i++) {
  const [name, size] = all[i % all.length]
  await page.setViewportSize(size)
  await act(page, { do: 'start' })
  await engraved(page, i + 1)
  const title = await page.evaluate(() => window.stand.state.page.words)
  const seen = await look(page, `${name}, ${title}`, 15)
  const measures = await page.evaluate(() => [window.stand.sheet.measures.length, window.stand.state.page.measures.length])
  check(measures[0] === measures[1], `${title}: ${measures[0]} measures are engraved of ${measures[1]}`)
  lines += seen.lines
  heads += seen.heads
  words += seen.words
}
console.log(`${n} pages, ${lines} lines, ${heads} note heads, ${words} words and dynamics`)
await done(browser)
