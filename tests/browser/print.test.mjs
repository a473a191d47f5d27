// On paper: the printed page and sheets, and proof that each check finds its fault.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { pathToFileURL } from 'node:url';

import { FONTS, SCHEMES, SCREENS, judged, open, overflows, picture, violations, visit } from './browser.mjs';
import { print } from './print.mjs';
import { PROGRAM, REPO, Yard } from './yard.mjs';

const browsers = {};
let folder;
before(async () => {
  for (const fonts of FONTS) browsers[fonts] = await open(fonts);
  folder = mkdtempSync(join(tmpdir(), 'pilotwire-print-'));
});
after(async () => {
  for (const browser of Object.values(browsers)) await browser.close();
  rmSync(folder, { recursive: true, force: true });
});

const HEAD = '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>A sheet</title><style>@page{margin:15mm}body{margin:0}</style>';
const LINES = '<p>Words of a paragraph that fills the paper line by line.</p>'.repeat(60);

const SHEETS = {
  right: ['<h1>A sheet</h1><table><tr><th>zone<td>walk</table>', []],
  'right, of two or three pages': [`<h1>A sheet</h1>${LINES}<h2 style="break-after:avoid">Next</h2>`, []],
  'right, with words broken over the lines of two columns': [
    `<table style="width:160px;table-layout:fixed"><tr><td>burial fine-stranded copper<td>310 m (1017 ft) more of this</table>`,
    [],
  ],
  'with a word of which the second line is behind a lid': [
    '<table style="width:200px;table-layout:fixed"><tr><td><div style="height:20px;overflow:hidden">fine-stranded</div><td>three-core flexible-cord</table>',
    [/hides \d+ px of its height/, /"finestranded" is lost/],
  ],
  'with a table that is too wide': [
    `<table><tr>${'<td>column</td>'.repeat(60)}</tr></table>`,
    [/table .* reaches from 0 to \d+ px/, /stands at the paper's edge|reaches/],
  ],
  'with a box that hides its table': [
    `<div style="overflow:auto"><table><tr>${'<td>column</td>'.repeat(60)}</tr></table></div>`,
    [/div .* hides \d+ px of what it holds/, /./],
  ],
  'with a blank page': ['<h1>A sheet</h1><div style="break-before:page;height:10px"></div><p style="break-before:page">end</p>', [/page 2 is blank/]],
  'with a picture higher than the paper': [
    '<svg xmlns="http://www.w3.org/2000/svg" style="display:block" width="100" height="1500"><rect width="100" height="1500"/></svg><p>end</p>',
    [/svg .* is 1500 px high/],
  ],
  'with a label beyond its picture': ['<svg width="100" height="40"><text x="60" y="20">beyond the edge</text></svg>', [/text "beyond the edge" is cut off/]],
  'with text behind a lid': ['<div style="height:20px;overflow:hidden"><p>seen</p><p>concealed</p></div>', [/hides \d+ px of its height/, /"concealed" is lost/]],
  'without margins': ['<style>@page{margin:0}</style><h1>A sheet</h1>', [/"A" stands at the paper's edge/]],
  'with a heading left alone': [
    `<div style="height:930px">above</div><h2 style="break-after:auto;margin:0">Alone</h2><div style="break-inside:avoid;height:400px">below</div>`,
    [/ends with the heading "Alone"/],
  ],
  'with more pages than it may have': [`${LINES}`.repeat(6), [/pages, not 1 to 4/]],
};

describe('what paper would lose is seen', () => {
  for (const [name, [body, expected]] of Object.entries(SHEETS)) {
    test(`a sheet ${name}`, async () => {
      const file = join(folder, 'sheet.html');
      writeFileSync(file, `${HEAD}${body}`);
      const wrong = await print(browsers[FONTS[0]], pathToFileURL(file).href, 'check', [1, 4]);
      if (expected.length === 0) assert.deepEqual(wrong, []);
      for (const what of expected) assert.ok(wrong.some((it) => what.test(it)), `${what} in ${JSON.stringify(wrong, null, 1)}`);
    });
  }
});

test('the page on paper', async () => {
  const yard = await Yard.start({
    zones: Array.from({ length: 9 }, (_, n) => (n % 3 === 2
      ? { name: `terrace-${n + 1}`, follows: `terrace-${n}` }
      : { name: `terrace-${n + 1}`, in_s: 60 * (n - 4), output: true })),
  });
  try {
    for (const fonts of FONTS) {
      for (const colorScheme of SCHEMES) {
        assert.deepEqual(await print(browsers[fonts], yard.url, `page-${colorScheme}-${fonts}`, [1, 5], { colorScheme }), []);
      }
    }
  } finally {
    await yard.close();
  }
});

describe('the sheets of the demo yards, on screen and on paper', { concurrency: 1 }, () => {
  for (const site of readdirSync(join(REPO, 'config')).filter((file) => file.endsWith('.toml'))) {
    for (const fonts of FONTS) {
      test(`${site}, ${fonts}`, async () => {
        const file = join(folder, `${site}.html`);
        const made = spawnSync(PROGRAM, ['sheet', join(REPO, 'config', site), '-o', file], { encoding: 'utf8' });
        // A yard that must not be built gets a sheet too, and an exit code for it.
        assert.ok([0, 1].includes(made.status), made.stderr);
        const address = pathToFileURL(file).href;
        const page = await visit(browsers[fonts], address);
        for (const screen of SCREENS) {
          await page.setViewportSize(screen);
          assert.deepEqual(await overflows(page), [], `${screen.width} px: nothing but tables in their own boxes may be wider`);
          for (const colorScheme of SCHEMES) {
            await page.emulateMedia({ colorScheme });
            if (judged(fonts, screen, colorScheme)) assert.deepEqual(await violations(page), [], `${screen.width} px, ${colorScheme}`);
            await picture(page, `sheet-${site}-${screen.width}-${colorScheme}-${fonts}`);
          }
        }
        if (fonts === FONTS[0]) {
          await page.emulateMedia({ media: 'print', colorScheme: 'light' });
          await page.setViewportSize({ width: 680, height: 1000 });
          assert.deepEqual(await violations(page), [], 'as printed');
        }
        assert.deepEqual(page.troubles, [], 'nothing on the console');
        assert.deepEqual(page.asked, [address], 'it asks for nothing but itself');
        await page.context().close();
        assert.deepEqual(await print(browsers[fonts], address, `sheet-${site}-${fonts}`, [2, 40]), []);
      });
    }
  }
});
