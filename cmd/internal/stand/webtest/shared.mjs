// shared.mjs ADDRESS: a stand that other machines reach says so, and a page that is left ends
// nothing but itself.
import { act, check, done, launch, shoot, sizes } from './browser.mjs'

const [address] = process.argv.slice(2)
const { browser, open } = await launch()
const one = await open(address, sizes.tablet), other = await open(address, sizes.telephone)
const place = (page, name) => page.waitForFunction(p => document.body.dataset.place === p, name)
await place(one, 'choose')
const says = async (where, text) => { for (const w of ['drive and end', 'read its record', 'not encrypted']) check(text.includes(w), `${where} does not say ${w}: ${text}`) }
await says('the choice', await one.textContent('#panel'))
await shoot(one, 'shared')
await act(one, { do: 'start' })
await place(one, 'look-over')
await says('the look-over', await one.textContent('#panel'))
await one.click('#menu')
await says('the menu', await one.textContent('#settings'))
check(await one.isHidden('#quit'), 'a page that may not end the practice offers to')
await one.click('#leave')
await place(one, 'over')
check((await one.textContent('#panel')).includes('The practice goes on'), 'it is not said that the practice goes on')
await shoot(one, 'left')
await place(other, 'look-over')
await act(other, { do: 'go' })
await place(other, 'take')
check(await one.evaluate(() => document.body.dataset.place) === 'over', 'a page that was left follows on')
await one.click('[data-key=reopen]')
await place(one, 'take')
await done(browser)
