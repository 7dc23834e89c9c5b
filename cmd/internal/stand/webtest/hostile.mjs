// hostile.mjs ADDRESS: a score whose words and names are markup, and whose drawing would run.
import { act, check, done, engraved, launch, sizes } from './browser.mjs'

const [address] = process.argv.slice(2)
const { browser, open } = await launch()
const page = await open(address, sizes.laptop)
await page.evaluate(() => { window.stand.harmed = false })
await act(page, { do: 'start' })
await engraved(page, 1)
const found = await page.evaluate(() => ({
  harmed: window.stand.harmed || window.harmed === true,
  bad: document.querySelectorAll('#sheet script, #sheet style, #sheet image, #sheet img, #sheet foreignObject, #sheet a, header img, .panel img').length,
  listeners: [...document.querySelectorAll('#sheet *')].filter(e => [...e.attributes].some(a => a.name.startsWith('on'))).length,
  title: document.getElementById('title').textContent,
}))
check(!found.harmed && found.bad === 0 && found.listeners === 0, JSON.stringify(found))
check(found.title.includes('<img'), `the title is not shown as it is: ${found.title}`)

// What the page does to a drawing is what keeps it harmless: given one outright.
page.mayFail = true // the policy stops its style, and says so
const kept = await page.evaluate(async () => {
  const { drawingOf } = await import('./engraving.js')
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"><defs/><svg class="definition-scale"><g class="page-margin" onload="harmed=true">
    <script>window.harmed = true</script><image href="http://192.0.2.1/x" xlink:href="http://192.0.2.1/x"/><foreignObject><b xmlns="http://www.w3.org/1999/xhtml">b</b></foreignObject>
    <use href="http://192.0.2.1/x#a"/><use xlink:href="#E050"/><a href="javascript:alert(1)"><text>x</text></a><animate attributeName="href"/><path d="M0 0" style="fill:url(http://192.0.2.1)" onclick="x()"/></g></svg></svg>`
  return (await drawingOf({ svg, style: '' })).music.outerHTML
})
for (const word of ['script', '192.0.2.1', 'foreignObject', 'javascript', 'animate', 'onload', 'onclick', 'style']) check(!kept.includes(word), `${word} stays: ${kept}`)
check(kept.includes('#E050') && kept.includes('M0 0'), `the drawing itself is gone: ${kept}`)
await done(browser)
