// The checks themselves: each gets a page with one fault, and must report it.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';

import { open, overflows, sound, tooSmall, violations, visit } from './browser.mjs';
import { Yard } from './yard.mjs';

let browser;
let yard;
before(async () => {
  browser = await open();
  yard = await Yard.start({ zones: [{ name: 'walk', in_s: 3600, output: true }] });
});
after(async () => {
  await browser.close();
  await yard.close();
});

/** Breaks the page in the browser, and gives it to a check. */
const broken = (how, look, options) => async () => {
  const page = await visit(browser, yard.url, options);
  await sound(page);
  await page.evaluate(how);
  await look(page);
  await page.context().close();
};
const refused = (page, why) => assert.rejects(sound(page), why);

describe('a check sees', { concurrency: 1 }, () => {
  test('a document that is too wide', broken(
    () => { document.querySelector('h1').style.width = '400px'; },
    async (page) => {
      assert.match((await overflows(page)).join('\n'), /the document is \d+ px wide in 360 px/);
      await refused(page, /stands out of the window/);
    },
  ));

  test('text that is too long for its box, without widening the document', broken(
    () => {
      const it = document.querySelector('.plan');
      it.style.overflowX = 'hidden';
      it.firstChild.style.whiteSpace = 'nowrap';
      it.firstChild.textContent = 'word '.repeat(40);
    },
    async (page) => assert.match((await overflows(page)).join('\n'), /li "word/),
  ));

  test('a label beyond its picture', broken(
    () => { document.querySelector('.timeline .zone').textContent = 'word '.repeat(40); },
    async (page) => assert.match((await overflows(page)).join('\n'), /cut off by its picture/),
  ));

  test('a button that is too small', broken(
    () => { document.querySelector('button').style.minHeight = '30px'; },
    async (page) => {
      assert.match((await tooSmall(page)).join('\n'), /button "On" is [\d.]+ × 3[\d.]+ px/);
      await refused(page, /hit with a thumb/);
    },
  ));

  test('pale text, a picture without a name, a field without a label', broken(
    () => {
      document.querySelector('h1').style.color = '#ddd';
      document.querySelector('.timeline').removeAttribute('aria-label');
      const select = document.querySelector('select');
      select.closest('label').replaceWith(select);
    },
    async (page) => {
      const found = (await violations(page)).join('\n');
      for (const rule of ['color-contrast', 'svg-img-alt', 'select-name']) assert.match(found, new RegExp(`^${rule}:`, 'm'));
      await refused(page, /axe finds nothing/);
    },
  ));

  test('an error of a script, and a request to somebody else', broken(
    () => {
      console.error('broken on purpose');
      const img = new Image();
      img.src = 'http://127.0.0.9:9/elsewhere.png';
      return new Promise((done) => { img.onerror = done; });
    },
    async (page) => {
      assert.ok(page.asked.includes('http://127.0.0.9:9/elsewhere.png') || page.troubles.some((it) => /Content Security Policy/.test(it)));
      assert.match(page.troubles.join('\n'), /broken on purpose/);
      await refused(page, /nothing on the console|asks nobody else/);
    },
  ));
});
