// A browser, and the checks for every state of a page.

import assert from 'node:assert/strict';
import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';

import { chromium } from 'playwright-core';

import { REPO } from './yard.mjs';

/** Screenshots for a reader go here. */
export const PICTURES = join(REPO, 'target/browser');
mkdirSync(PICTURES, { recursive: true });

/** A telephone, a tablet, a desk. */
export const SCREENS = [
  { width: 360, height: 640 },
  { width: 768, height: 1024 },
  { width: 1440, height: 900 },
];

/** By day and by night. */
export const SCHEMES = ['light', 'dark'];

/**
 * Whether axe looks at a state: it reads markup and colours, which no font changes, and only how large things are
 * is a matter of the narrowest screen. The other fonts are left to the checks of what is laid out.
 */
export function judged(fonts, screen, colorScheme) {
  return fonts === FONTS[0] || (screen === SCREENS[0] && colorScheme === SCHEMES[0]);
}

/** Smallest side of a button for a finger [px]. */
const FINGER = 44;

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Sets of fonts for checking the layout; everything else uses the first. */
export const FONTS = ['dejavu', 'noto'];

/** Chromium, with these fonts alone, and nothing of its own on the network. */
export function open(fonts = FONTS[0]) {
  return chromium.launch({
    env: { ...process.env, FONTCONFIG_FILE: join(process.env.FONTS_DIR, `${fonts}.conf`) },
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: [
      '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync',
    ],
  });
}

/** A page of a browser that remembers what went wrong on it and what it asked for. */
export async function visit(browser, url, options = {}) {
  const { width, height, ...rest } = options;
  const context = await browser.newContext({ viewport: { width: width ?? 360, height: height ?? 640 }, ...rest });
  const page = await context.newPage();
  const troubles = [];
  const asked = [];
  page.on('console', (said) => {
    if (['error', 'warning'].includes(said.type())) troubles.push(`${said.type()}: ${said.text()}`);
  });
  page.on('pageerror', (error) => troubles.push(`thrown: ${error}`));
  page.on('request', (request) => asked.push(request.url()));
  await page.goto(url, { waitUntil: 'load' });
  return Object.assign(page, { troubles, asked });
}

/** Describes what sticks out of the window, of its own box, or of a picture. */
export function overflows(page) {
  return page.evaluate(() => {
    const found = [];
    const wide = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > wide) {
      found.push(`the document is ${document.documentElement.scrollWidth} px wide in ${wide} px`);
    }
    const name = (it) => `${it.localName}${it.id ? `#${it.id}` : ''}${it.classList?.length ? `.${[...it.classList].join('.')}` : ''} "${(it.textContent ?? '').trim().slice(0, 30)}"`;
    const scrolls = (it) => {
      for (let up = it.parentElement; up && up !== document.body; up = up.parentElement) {
        if (up instanceof HTMLElement && ['auto', 'scroll'].includes(getComputedStyle(up).overflowX)) return true;
      }
      return false;
    };
    for (const it of document.body.querySelectorAll('*')) {
      const style = getComputedStyle(it);
      if (style.display === 'none' || style.visibility === 'hidden' || it.closest('noscript, title')) continue;
      const box = it.getBoundingClientRect();
      if (box.width === 0 || box.height === 0) continue;
      const shown = it.closest('svg')?.getBoundingClientRect();
      if (shown && it.localName !== 'svg') {
        // Text cut off at a picture's edge is as lost as text outside the window.
        if (it.localName === 'text' && (box.left < shown.left - 1 || box.right > shown.right + 1)) found.push(`${name(it)} is cut off by its picture`);
        continue;
      }
      if ((box.left < -0.5 || box.right > wide + 0.5) && !scrolls(it)) found.push(`${name(it)} reaches from ${box.left} to ${box.right} px of ${wide}`);
      const boxed = it instanceof HTMLElement && !style.display.startsWith('inline') || style.display === 'inline-block';
      if (boxed && it.scrollWidth > it.clientWidth + 1 && !['auto', 'scroll'].includes(style.overflowX) && it.localName !== 'select') {
        found.push(`${name(it)} holds ${it.scrollWidth} px in ${it.clientWidth}`);
      }
    }
    return found;
  });
}

/** Describes what is too small for a thumb. */
export function tooSmall(page) {
  return page.evaluate((least) => {
    const found = [];
    for (const it of document.querySelectorAll('a[href], button, select, input, textarea, summary, [tabindex="0"]')) {
      const { width, height } = it.getBoundingClientRect();
      if (width === 0 && height === 0) continue;
      if (width < least || height < least) found.push(`${it.localName} "${it.textContent.trim().slice(0, 20)}" is ${width} × ${height} px`);
    }
    return found;
  }, FINGER);
}

/** Describes what axe finds wrong, its best practices included. */
export async function violations(page) {
  await page.evaluate(AXE);
  const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'], preload: false }));
  return found.violations.flatMap((rule) => rule.nodes.map((node) => `${rule.id}: ${rule.help}: ${node.target} ${node.failureSummary}`));
}

/** Everything that must be so in any state of any page; axe's part can be left out where it has been done. */
export async function sound(page, { axe = true } = {}) {
  const own = new URL(page.url()).origin;
  const elsewhere = page.asked.filter((url) => !url.startsWith(own) && !url.startsWith('data:'));
  assert.deepEqual(elsewhere, [], 'it asks nobody else for anything');
  assert.deepEqual(page.troubles, [], 'nothing on the console');
  assert.deepEqual(await overflows(page), [], 'nothing stands out of the window');
  assert.deepEqual(await tooSmall(page), [], 'everything can be hit with a thumb');
  if (axe) assert.deepEqual(await violations(page), [], 'axe finds nothing');
}

/** Keeps a screenshot, if asked to. */
export async function picture(page, name, options = {}) {
  if (process.env.PICTURES) await page.screenshot({ path: join(PICTURES, `${name}.png`), fullPage: true, ...options });
}
