// The commissioning sheet as a form, filled in by a user with both hands on the probes.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';

import { FONTS, SCHEMES, SCREENS, judged, open, picture, sound, visit } from './browser.mjs';
import { Yard, until } from './yard.mjs';

const browsers = {};
before(async () => {
  for (const fonts of FONTS) browsers[fonts] = await open(fonts);
});
after(async () => {
  for (const it of Object.values(browsers)) await it.close();
});

const PAIR = [{ name: 'walk', in_s: 3600, output: true }, { name: 'orchard', follows: 'walk' }];

/** Runs a test with the form of a yard, once its links are worked out. */
async function with_form(look, fonts = FONTS[0]) {
  const yard = await Yard.start({ zones: PAIR });
  try {
    const page = await visit(browsers[fonts], new URL('/readings', yard.url).href);
    await until(async () => {
      if (await page.locator('form[data-zone=orchard]').count()) return true;
      await page.reload();
      return false;
    }, 30, 'the form');
    await look(page, yard);
    await page.context().close();
  } finally {
    await yard.close();
  }
}

const form = (page) => page.locator('form[data-zone=orchard]');
const field = (page, point) => form(page).locator(`input[name="${point}"]`);
const answer = (page) => form(page).locator('[role=status]').innerText();

/** The expected reading, as the page shows it. */
const expected = async (page, point) => {
  const how = await page.locator(`[id="orchard.${point.replace(' ', '-')}.how"]`).innerText();
  return Number(/Expected: ([0-9.]+)/.exec(how)[1]);
};

for (const fonts of FONTS) test(`the form is sound on every screen, by day and by night, empty, refused and judged, ${fonts}`, () => with_form(async (page) => {
  for (const what of ['empty', 'refused', 'judged']) {
    if (what === 'refused') {
      await field(page, 'TP2').fill('much');
      await form(page).locator('.act button').click();
      await until(async () => await field(page, 'TP2').getAttribute('aria-invalid') === 'true', 15, 'refused');
      assert.equal(await field(page, 'TP2').inputValue(), 'much', 'what was typed stays');
      // The browser logs the answer as a refused request.
      assert.match(page.troubles.shift(), /409/);
    }
    if (what === 'judged') {
      await field(page, 'TP2').fill('3,1');
      await form(page).locator('.act button').click();
      await until(async () => /low/.test(await page.locator('[id="orchard.TP2.was"]').innerText()), 15, 'judged');
      assert.equal(await field(page, 'TP2').inputValue(), '', 'and taken');
    }
    for (const screen of SCREENS) {
      await page.setViewportSize(screen);
      for (const colorScheme of SCHEMES) {
        await page.emulateMedia({ colorScheme });
        await picture(page, `readings-${what}-${screen.width}-${colorScheme}-${fonts}`);
        await sound(page, { axe: screen.width !== 768 && judged(fonts, screen, colorScheme) });
      }
    }
  }
  // The yard's own page reports the wrong reading, and links back.
  await page.setViewportSize(SCREENS[0]);
  await page.locator('nav a[href="/"]').click();
  await page.locator('header a[href="/readings"]').waitFor();
  await picture(page, 'readings-told-360-dark');
  await sound(page);
}, fonts));

test('by keyboard alone: values as they should be, and the answer', () => with_form(async (page) => {
  const [pair, coil] = [await expected(page, 'TP2'), await expected(page, 'TP3 DC')];
  await field(page, 'TP2').focus();
  await page.keyboard.type(String(pair));
  // To the next point, wherever it is, without a pointer.
  for (let step = 0; step < 20; step += 1) {
    await page.keyboard.press('Tab');
    if (await page.evaluate(() => document.activeElement.name) === 'TP3 DC') break;
  }
  await page.keyboard.type(String(coil).replace('.', ','));
  await page.keyboard.press('Enter');
  await until(async () => /Kept/.test(await answer(page)), 15, 'kept');
  assert.match(await page.locator('[id="orchard.TP3-DC.was"]').innerText(), /within/);
  await page.reload();
  assert.match(await page.locator('[id="orchard.TP2.was"]').innerText(), /within/);
}));

test('what was typed is not lost with the board, nor with the page', () => with_form(async (page, yard) => {
  await field(page, 'TP2').fill('11.5');
  await page.route('**/do', (route) => route.abort());
  await form(page).locator('.act button').click();
  await until(async () => /No answer from the board/.test(await answer(page)), 15, 'told');
  assert.equal(await field(page, 'TP2').inputValue(), '11.5');
  await page.reload();
  assert.equal(await field(page, 'TP2').inputValue(), '11.5');
  await page.unroute('**/do');
  // The browser logs the lost request.
  page.troubles.splice(0, page.troubles.length, ...page.troubles.filter((said) => !/ERR_FAILED/.test(said)));
  assert.deepEqual(page.troubles, []);
  assert.ok(yard.url);
}));
