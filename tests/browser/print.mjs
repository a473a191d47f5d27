// Prints a file to paper, and lists what would be lost on paper.
//
//   tests/browser/run pdf FILE.html [PAGES]    PAGES such as 4-20

import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, readdirSync } from 'node:fs';
import { basename, join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';

import { PICTURES, open } from './browser.mjs';

/** Sizes of paper [CSS px, of which 96 are an inch]. */
export const PAPERS = { A4: [793.7, 1122.5], Letter: [816, 1056] };

/** A printer leaves this free at every edge [CSS px]: 5 mm, common practice. */
const EDGE = 19;

/** Points of a PDF, as CSS px. */
const px = (points) => (points * 96) / 72;

/** Describes what the paper would cut off in the browser's print layout. */
async function cutOff(page, high) {
  return page.evaluate((high) => {
    const found = [];
    const wide = document.documentElement.clientWidth;
    const name = (it) => `${it.localName}${it.id ? `#${it.id}` : ''} "${it.textContent.trim().slice(0, 40)}"`;
    for (const it of document.body.querySelectorAll('*')) {
      const style = getComputedStyle(it);
      const box = it.getBoundingClientRect();
      if (style.display === 'none' || style.visibility === 'hidden' || box.width === 0 || box.height === 0 || it.closest('noscript')) continue;
      if (['svg', 'img'].includes(it.localName) && box.height > high + 1) found.push(`${name(it)} is ${Math.round(box.height)} px high, the paper ${Math.round(high)}`);
      const svg = it.closest('svg');
      if (svg && it !== svg) {
        const shown = svg.getBoundingClientRect();
        if (it.localName === 'text' && (box.left < shown.left - 1 || box.right > shown.right + 1)) found.push(`${name(it)} is cut off by its picture`);
        continue;
      }
      if (box.right > wide + 1 || box.left < -1) found.push(`${name(it)} reaches from ${Math.round(box.left)} to ${Math.round(box.right)} px of ${Math.round(wide)}`);
      // Paper does not scroll.
      if (it instanceof HTMLElement && !style.display.startsWith('inline') && it.localName !== 'select' && style.overflowX !== 'visible' && it.scrollWidth > it.clientWidth + 1) {
        found.push(`${name(it)} hides ${it.scrollWidth - it.clientWidth} px of what it holds`);
      }
      if (it instanceof HTMLElement && style.overflowY !== 'visible' && !style.display.startsWith('inline') && it.scrollHeight > it.clientHeight + 1) {
        found.push(`${name(it)} hides ${it.scrollHeight - it.clientHeight} px of its height`);
      }
    }
    return found;
  }, high);
}

/**
 * Words and where they stand, page by page, as poppler reads the PDF: in the order they were drawn in, so that
 * the lines of one cell of a table follow each other, and a word that is broken over two of them is still one.
 */
function words(pdf) {
  const text = execFileSync('pdftotext', ['-raw', '-bbox', pdf, '-'], { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] });
  return text.split('<page ').slice(1).map((page) => {
    const [, wide, high] = /width="([\d.]+)" height="([\d.]+)"/.exec(page);
    const found = [...page.matchAll(/<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">(.*?)<\/word>/g)]
      .map(([, ...it]) => ({ left: px(it[0]), top: px(it[1]), right: px(it[2]), bottom: px(it[3]), text: it[4] }));
    return { wide: px(wide), high: px(high), words: found };
  });
}

/** Text without what a PDF says in its own way: entities, hyphens, spaces, ligatures. */
function plain(text) {
  return text.replaceAll('&gt;', '>').replaceAll('&lt;', '<').replaceAll('&quot;', '"').replaceAll('&apos;', "'").replaceAll('&amp;', '&')
    .normalize('NFKC').replace(/[\s\u00ad\u2010-\u2015\u2212-]/g, '');
}

/** Share of every page that is not the colour of its corner. */
function ink(pdf, folder) {
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder, { recursive: true });
  execFileSync('pdftoppm', ['-r', '40', '-gray', pdf, join(folder, 'page')]);
  return readdirSync(folder).sort().map((file) => {
    const raw = readFileSync(join(folder, file));
    const [, wide, high] = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(raw.subarray(0, 40).toString('latin1'));
    const dots = raw.subarray(raw.length - wide * high);
    return dots.reduce((sum, dot) => sum + (Math.abs(dot - dots[0]) > 24), 0) / dots.length;
  });
}

/**
 * Prints what an address shows, on A4 and on Letter, and gives back what is wrong, in words; `pages`: how many
 * there may be. The PDFs are left beside the pictures.
 */
export async function print(browser, url, name, pages = [1, 200], options = {}) {
  const wrong = [];
  const context = await browser.newContext(options);
  const page = await context.newPage();
  // Nothing may move while the page is printed.
  await page.route('**/events', (route) => route.abort());
  await page.goto(url, { waitUntil: 'load' });
  for (const [paper, [wide, high]] of Object.entries(PAPERS)) {
    const say = (what) => wrong.push(`${paper}: ${what}`);
    const pdf = join(PICTURES, `${name}-${paper}.pdf`);
    await page.emulateMedia({ media: null });
    await page.pdf({ path: pdf, format: paper, printBackground: false, preferCSSPageSize: false });
    // As wide as the paper is between the margins that the page itself asks for.
    await page.emulateMedia({ media: 'print' });
    const margin = await page.evaluate(() => {
      const rules = [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]);
      const rule = rules.flatMap((it) => (it instanceof CSSMediaRule ? [...it.cssRules] : [it])).find((it) => it instanceof CSSPageRule);
      const probe = document.createElement('div');
      probe.style.width = rule?.style.marginLeft || rule?.style.margin?.split(' ').at(-1) || '0px';
      document.body.append(probe);
      const got = probe.getBoundingClientRect().width;
      probe.remove();
      return got;
    });
    await page.setViewportSize({ width: Math.round(wide - 2 * margin), height: Math.round(high) });
    for (const what of await cutOff(page, high - 2 * margin)) say(what);
    const [shown, drawn] = await page.evaluate(() => [
      document.body.innerText,
      [...document.querySelectorAll('svg text')].filter((it) => it.getClientRects().length > 0).map((it) => it.textContent).join(' '),
    ]);
    const headings = await page.evaluate(() => [...document.querySelectorAll('h1, h2, h3')]
      .filter((it) => it.getClientRects().length > 0).map((it) => it.innerText.replace(/\s+/g, ' ').trim()));
    await page.setViewportSize({ width: 1280, height: 720 });

    const sheets = words(pdf);
    if (sheets.length < pages[0] || sheets.length > pages[1]) say(`${sheets.length} pages, not ${pages[0]} to ${pages[1]}`);
    // Text lost between two pages, in a row or behind a box. Words may be broken over lines.
    const all = plain(sheets.flatMap((sheet) => sheet.words.map((word) => word.text)).join(''));
    for (const word of new Set(`${shown} ${drawn}`.split(/\s+/).map(plain))) {
      if (word.length >= 4 && !all.includes(word)) say(`"${word}" is lost`);
    }
    const inks = ink(pdf, join(PICTURES, 'pages', `${name}-${paper}`));
    sheets.forEach((sheet, index) => {
      const on = `page ${index + 1}`;
      if (Math.abs(sheet.wide - wide) > 2 || Math.abs(sheet.high - high) > 2) say(`${on} is ${sheet.wide} × ${sheet.high} px`);
      if (sheet.words.length === 0 || inks[index] < 0.0005) say(`${on} is blank`);
      for (const word of sheet.words) {
        if (word.left < EDGE - 1 || word.right > sheet.wide - EDGE + 1 || word.top < EDGE - 1 || word.bottom > sheet.high - EDGE + 1) {
          say(`${on}: "${word.text}" stands at the paper's edge`);
        }
      }
      // A page whose last words are a heading.
      const last = Math.max(0, ...sheet.words.map((word) => word.bottom));
      const foot = sheet.words.filter((word) => word.bottom > last - 4).map((word) => word.text).join('');
      if (index + 1 < sheets.length && headings.some((heading) => plain(heading) === plain(foot))) say(`${on} ends with the heading "${foot}"`);
    });
  }
  await context.close();
  return [...new Set(wrong)];
}

if (process.argv[1] === import.meta.filename) {
  const [file, range] = process.argv.slice(2);
  const browser = await open();
  const wrong = await print(browser, pathToFileURL(resolve(process.env.PWD_BEFORE ?? '.', file)).href, basename(file, '.html'), range?.split('-').map(Number));
  await browser.close();
  for (const what of wrong) console.log(what);
  process.exitCode = wrong.length ? 1 : 0;
}
