// The report page in a real browser: what its reader can do with it, and what comes out of the printer.
//
// Pages come from the folder SCANTLING_PAGES, one `NAME/report.html` a job; `facts.json` there says what they must show.
// Pictures go into SCANTLING_SHOTS, for people to look at.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { execFileSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { after, before, describe, test } from 'node:test';
import puppeteer from 'puppeteer-core';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';

const require = createRequire(import.meta.url);
const AXE = require.resolve('axe-core/axe.min.js');
const PAGES = process.env.SCANTLING_PAGES;
const SHOTS = process.env.SCANTLING_SHOTS || fs.mkdtempSync(path.join(os.tmpdir(), 'scantling-shots-'));
const SCREENS = { phone: [390, 844], tablet: [820, 1180], desktop: [1440, 900] };
// Landscape, in points of 1/72 inch: ISO 216, and whole inches.
const PAPERS = { A4: [841.89, 595.28], A3: [1190.55, 841.89], Letter: [792, 612], Tabloid: [1224, 792] };

function chromium() {
  if (process.env.SCANTLING_CHROMIUM) { return process.env.SCANTLING_CHROMIUM; }
  for (const name of ['chromium', 'chromium-browser', 'google-chrome']) {
    try {
      return execFileSync('sh', ['-c', `command -v ${name}`], { encoding: 'utf8' }).trim();
    } catch { /* the next one */ }
  }
  throw new Error('no Chromium: set SCANTLING_CHROMIUM');
}

assert.ok(PAGES, 'SCANTLING_PAGES names the folder with the pages');
const FACTS = JSON.parse(fs.readFileSync(path.join(PAGES, 'facts.json'), 'utf8'));
const address = job => pathToFileURL(path.join(PAGES, job, 'report.html')).href;

let browser;
before(async () => {
  const root = process.getuid && process.getuid() === 0;
  browser = await puppeteer.launch({ executablePath: chromium(), args: root ? ['--no-sandbox'] : [] });
});
after(async () => { await browser?.close(); });

/** Opens a page and hands it on with everything that went wrong or went out. */
async function opened(job, screen, work, hash = '') {
  const page = await browser.newPage();
  const trouble = [];
  page.on('console', m => { if (['error', 'warn'].includes(m.type())) { trouble.push(`console: ${m.text()}`); } });
  page.on('pageerror', e => trouble.push(`error: ${e.message}`));
  page.on('request', r => { if (r.url() !== address(job) + hash && r.url() !== address(job)) { trouble.push(`request: ${r.url()}`); } });
  try {
    const [width, height] = SCREENS[screen];
    await page.setViewport({ width, height, hasTouch: screen === 'phone' });
    await page.goto(address(job) + hash);
    const result = await work(page);
    assert.deepEqual(trouble, []);
    return result;
  } finally {
    await page.close();
  }
}

/** Pairs of level words on a printed page of which one lies on the other. */
function overprinted(items) {
  const boxes = items
    .filter(i => i.str.trim() && Math.abs(i.transform[1]) < 1e-6)
    .map(i => ({ words: i.str, x: i.transform[4], y: i.transform[5], w: i.width, h: Math.abs(i.transform[3]) }));
  const found = [];
  boxes.forEach((a, i) => boxes.slice(0, i).forEach(b => {
    const wide = Math.min(a.x + a.w, b.x + b.w) - Math.max(a.x, b.x);
    const high = Math.min(a.y + a.h, b.y + b.h) - Math.max(a.y, b.y);
    if (wide > 1 && high > 0.4 * Math.min(a.h, b.h)) { found.push(`"${b.words}" and "${a.words}"`); }
  }));
  return found;
}

const text = (page, selector) => page.$eval(selector, e => e.textContent);
const shows = (page, selector) => page.$eval(selector, e => e.checkVisibility({ visibilityProperty: true }));
const boxOf = async (page, selector) => (await page.$eval(selector, e => e.getAttribute('viewBox'))).split(' ').map(Number);
/** The middle of a piece's outline on the screen, at a point of it that nothing covers. */
const spotAt = (page, selector) => page.$eval(selector, e => {
  e.scrollIntoView({ block: 'center' });
  const b = e.getBoundingClientRect();
  for (let i = 1; i < 20; i += 1) {
    for (let j = 1; j < 20; j += 1) {
      const [x, y] = [b.left + b.width * i / 20, b.top + b.height * j / 20];
      if (document.elementFromPoint(x, y) === e) { return [x, y]; }
    }
  }
  throw new Error('the piece is nowhere to be clicked');
});

for (const [job, facts] of Object.entries(FACTS)) {
  describe(job, () => {
    test('loads without an error and asks nobody for anything', async () => {
      await opened(job, 'desktop', async page => {
        assert.equal((await page.$$('.slab')).length, facts.slabs);
        assert.equal((await page.$$('.spot')).length, facts.pieces);
        // The script ran: it is what makes its own controls seen.
        assert.ok(await shows(page, '#print'));
      });
    });

    test('lets nothing else run or load', async () => {
      const page = await browser.newPage();
      try {
        await page.goto(address(job));
        const got = await page.evaluate(async () => {
          const out = [];
          const script = document.createElement('script');
          script.textContent = 'window.intruder = true';
          document.body.append(script);
          out.push(window.intruder === true);
          out.push(await fetch('data:text/plain,x').then(() => true, () => false));
          const image = new Image();
          out.push(await new Promise(done => {
            image.onload = () => done(true);
            image.onerror = () => done(false);
            image.src = 'http://127.0.0.1:9/x.png';
          }));
          return out;
        });
        assert.deepEqual(got, [false, false, false]);
      } finally {
        await page.close();
      }
    });

    test('layers switch, and take their words with them', async () => {
      await opened(job, 'desktop', async page => {
        const switches = await page.$$eval('[data-layer]', boxes => boxes.map(b => [b.dataset.layer, b.checked]));
        assert.ok(switches.length >= 6);
        const seen = () => page.evaluate(() => {
          const groups = Array.from(document.querySelectorAll('#slabs svg.live g[class^=layer-]'));
          const out = {};
          for (const g of groups) {
            const name = g.getAttribute('class');
            const drawn = getComputedStyle(g).display !== 'none' && g.getBoundingClientRect().width + g.getBoundingClientRect().height > 0;
            out[name] = (out[name] || 0) + (drawn ? 1 : 0);
          }
          return out;
        });
        const start = await seen();
        assert.equal(start['layer-zone'], 0, 'zones are off at first');
        const changed = new Set();
        for (const [name] of switches) {
          await page.click(`[data-layer=${name}]`);
          const other = await seen();
          for (const layer of Object.keys(start)) {
            if (other[layer] !== start[layer]) {
              // All groups of a layer go together.
              assert.ok(other[layer] === 0 || start[layer] === 0, `${layer} by ${name}`);
              changed.add(layer);
            }
          }
          await page.click(`[data-layer=${name}]`);
          assert.deepEqual(await seen(), start, name);
        }
        for (const layer of ['grain', 'zone', 'offcut', 'dimension', 'label', 'edge'].filter(l => `layer-${l}` in start)) {
          assert.ok(changed.has(`layer-${layer}`), layer);
        }
        assert.ok(!changed.has('layer-piece') && !changed.has('layer-opening'), 'pieces always show');
      });
    });

    test('a piece is picked by a click', async () => {
      await opened(job, 'desktop', async page => {
        const count = (await page.$$('#slab-1 .spot')).length;
        for (let n = 1; n <= count; n += 1) {
          const [x, y] = await spotAt(page, `#slab-1 .spot:nth-of-type(${n})`);
          await page.mouse.click(x, y);
          const picked = await page.$$eval('.sheet', s => s.filter(e => e.checkVisibility()).map(e => e.id));
          assert.deepEqual(picked, [`piece-1-${n}`]);
          assert.equal(await page.$eval(`#slab-1 .spot:nth-of-type(${n})`, e => e.getAttribute('aria-pressed')), 'true');
          assert.match(await text(page, '#live'), /is picked/);
        }
      });
    });

    test('a piece is picked by the keyboard, and let go', async () => {
      await opened(job, 'desktop', async page => {
        await page.$eval('#drawing-1', e => e.focus());
        await page.keyboard.press('Tab');
        assert.equal(await page.evaluate(() => document.activeElement.getAttribute('class')), 'spot');
        const label = await page.evaluate(() => document.activeElement.getAttribute('aria-label'));
        await page.keyboard.press('Enter');
        const sheet = await page.$$eval('.sheet', s => s.filter(e => e.checkVisibility()).map(e => e.textContent));
        assert.equal(sheet.length, 1);
        assert.ok(sheet[0].includes(label.split(': ')[1].split(',')[0]), label);
        for (const word of ['Length × depth', 'Mass', 'Edges', 'Openings', 'Place', 'Grain']) { assert.ok(sheet[0].includes(word), word); }
        await page.keyboard.press('Escape');
        assert.equal(await page.$$eval('.sheet', s => s.filter(e => e.checkVisibility()).length), 0);
      });
    });

    test('the drawing is moved and enlarged by buttons, keys, wheel, mouse and fingers', async () => {
      await opened(job, 'desktop', async page => {
        const svg = '#drawing-1';
        const whole = await boxOf(page, svg);
        const press = what => page.click(`#slab-1 [data-move=${what}]`);
        await press('in');
        const near = await boxOf(page, svg);
        assert.ok(near[2] < whole[2] * 0.7);
        await press('right');
        assert.ok((await boxOf(page, svg))[0] > near[0]);
        await press('whole');
        assert.deepEqual(await boxOf(page, svg), whole);

        await page.$eval(svg, e => e.focus());
        await page.keyboard.press('+');
        const keyed = await boxOf(page, svg);
        assert.ok(keyed[2] < whole[2]);
        await page.keyboard.press('ArrowDown');
        assert.ok((await boxOf(page, svg))[1] > keyed[1]);
        await page.keyboard.press('-');
        await page.keyboard.press('0');
        assert.deepEqual(await boxOf(page, svg), whole);

        const b = await page.$eval(svg, e => { e.scrollIntoView({ block: 'center' }); const r = e.getBoundingClientRect(); return [r.left, r.top, r.width, r.height]; });
        const middle = [b[0] + b[2] / 2, b[1] + b[3] / 2];
        await page.evaluate(() => document.activeElement.blur());
        await page.mouse.move(...middle);
        const top = await page.evaluate(() => window.scrollY);
        await page.mouse.wheel({ deltaY: 120 });
        await page.waitForFunction(y => window.scrollY !== y, {}, top);
        assert.deepEqual(await boxOf(page, svg), whole, 'the wheel alone scrolls the page');
        await page.$eval(svg, e => e.scrollIntoView({ block: 'center' }));
        await page.keyboard.down('Control');
        await page.mouse.wheel({ deltaY: -300 });
        await page.keyboard.up('Control');
        await page.waitForFunction((s, w) => Number(document.querySelector(s).getAttribute('viewBox').split(' ')[2]) < w, {}, svg, whole[2]);

        const from = await boxOf(page, svg);
        await page.mouse.move(...middle);
        await page.mouse.down();
        await page.mouse.move(middle[0] + 60, middle[1] + 40, { steps: 4 });
        await page.mouse.up();
        const to = await boxOf(page, svg);
        assert.ok(to[0] < from[0] && to[1] < from[1], 'what is dragged right shows more on the left');
        assert.equal(await page.$$eval('.sheet', s => s.filter(e => e.checkVisibility()).length), 0, 'a drag picks nothing');
      });
      await opened(job, 'phone', async page => {
        const whole = await boxOf(page, '#drawing-1');
        const [x, y] = await page.$eval('#drawing-1', e => {
          e.scrollIntoView({ block: 'center' });
          const r = e.getBoundingClientRect();
          return [r.left + r.width / 2, r.top + r.height / 2];
        });
        const client = await page.createCDPSession();
        const touch = (type, far) => client.send('Input.dispatchTouchEvent', {
          type, touchPoints: far ? [{ x: x - far, y, id: 0 }, { x: x + far, y, id: 1 }] : [],
        });
        await touch('touchStart', 20);
        for (const far of [30, 45, 60, 80]) { await touch('touchMove', far); }
        await touch('touchEnd', 0);
        assert.ok((await boxOf(page, '#drawing-1'))[2] < whole[2] / 2, 'two fingers enlarge');
      });
    });

    test('a finding leads to its place', async () => {
      await opened(job, 'desktop', async page => {
        const links = await page.$$('a.place');
        assert.ok(links.length >= facts.places, `${links.length} links`);
        for (const link of links) {
          const [slab, x, y] = await link.evaluate(e => [e.dataset.slab, Number(e.dataset.x), Number(e.dataset.y)]);
          await link.evaluate(e => e.click());
          const ring = await page.$eval(`#drawing-${slab} .beacon circle`, e => [Number(e.getAttribute('cx')), Number(e.getAttribute('cy'))]);
          assert.deepEqual(ring, [x, y]);
          const [bx, by, bw, bh] = await boxOf(page, `#drawing-${slab}`);
          assert.ok(x >= bx && x <= bx + bw && y >= by && y <= by + bh, 'the place is seen');
          // Scrolling is smooth where its reader has not asked for stillness.
          await page.waitForFunction(s => {
            const r = document.querySelector(s).getBoundingClientRect();
            return r.bottom > 0 && r.top < window.innerHeight;
          }, {}, `#drawing-${slab}`);
          assert.match(await text(page, '#live'), /place is marked/);
        }
      });
    });

    test('links lead to the sheets of pieces and openings', async () => {
      await opened(job, 'desktop', async page => {
        assert.ok(await shows(page, '#piece-1-1'));
        assert.equal(await page.evaluate(() => document.activeElement.id), 'piece-1-1');
      }, '#piece-1-1');
      if (facts.openings === 0) { return; }
      await opened(job, 'desktop', async page => {
        assert.equal((await page.$$('.opening')).length, facts.openings);
        assert.ok(await shows(page, '#opening-1 .sections'));
        await page.click('[data-fold=close]');
        assert.ok(!await shows(page, '#opening-1 .sections'));
        await page.click('[data-fold=open]');
        assert.ok(await shows(page, `#opening-${facts.openings} .sections`));
      }, '#opening-1');
    });

    test('amounts are seen on a phone, and wide tables say that they scroll', async () => {
      await opened(job, 'phone', async page => {
        const width = await page.evaluate(() => document.documentElement.clientWidth);
        const amounts = await page.$$eval('.fold tbody tr td:last-child', cells => cells.map(c => {
          const r = c.getBoundingClientRect();
          return [c.textContent, r.left, r.right];
        }));
        for (const [words, left, right] of amounts) {
          assert.ok(words.trim() && left >= 0 && right <= width, `"${words}" from ${left} to ${right} of ${width}`);
        }
        const tables = await page.$$eval('.scroll', all => all.map(t => [
          t.getAttribute('aria-label'), t.scrollWidth > t.clientWidth + 1,
          getComputedStyle(t.querySelector('caption'), '::after').content.includes('sideways'), t.classList.contains('fold'),
        ]));
        for (const [name, wide, told, fold] of tables) {
          assert.equal(told, wide, name);
          assert.ok(!(fold && wide), `${name} does not fold`);
        }
      });
      await opened(job, 'desktop', async page => {
        const hidden = await page.$$eval('.narrow', all => all.filter(e => e.checkVisibility()).length);
        assert.equal(hidden, 0);
      });
    });

    for (const screen of Object.keys(SCREENS)) {
      test(`no fault for those who cannot see or point, ${screen}`, async () => {
        await opened(job, screen, async page => {
          await page.click('.skip').catch(() => {});
          // Everything that can be opened is open.
          await page.evaluate(() => {
            document.querySelectorAll('details').forEach(d => { d.open = true; });
            document.querySelectorAll('.slab').forEach(s => s.querySelector('.spot')?.dispatchEvent(new MouseEvent('click', { bubbles: true })));
          });
          // Through the debugger: the page's own policy would not let the script in.
          await page.evaluate(fs.readFileSync(AXE, 'utf8'));
          const found = await page.evaluate(() => window.axe.run(document, {
            runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
          }));
          const faults = found.violations.flatMap(v => v.nodes.slice(0, 3).map(n => `${v.id}: ${n.target} ${n.failureSummary}`));
          assert.deepEqual(faults, []);
          assert.ok(found.passes.length > 20, 'the checker ran');
        });
      });

      test(`fits a ${screen}`, async () => {
        await opened(job, screen, async page => {
          const wide = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
          assert.ok(wide[0] <= wide[1], `${wide}`);
          await page.screenshot({ path: path.join(SHOTS, `${job}-${screen}.png`), fullPage: true });
        });
      });
    }

    test('prints the sheet of the piece that is picked, on a page of its own', async () => {
      const bytes = await opened(job, 'desktop', async page => {
        await page.waitForFunction(() => document.querySelector('#piece-1-1.picked'));
        return page.pdf({ preferCSSPageSize: true });
      }, '#piece-1-1');
      const pdf = await getDocument({ data: new Uint8Array(bytes), isEvalSupported: false, verbosity: 0 }).promise;
      const sheets = [];
      for (let n = 1; n <= pdf.numPages; n += 1) {
        const { items } = await (await pdf.getPage(n)).getTextContent();
        assert.deepEqual(overprinted(items), [], `page ${n}`);
        const words = items.map(i => i.str).join(' ').replace(/\s+/g, ' ').trim();
        if (words.startsWith('1 ') && words.includes('Length × depth') && words.includes('Edges')) { sheets.push(n); }
      }
      assert.equal(sheets.length, 1, 'its sheet');
    });

    for (const [paper, size] of Object.entries(PAPERS)) {
      test(`prints on ${paper}, each slab on a page of its own`, async () => {
        const bytes = await opened(job, 'desktop', async page => {
          await page.select('#paper', paper);
          await page.click('[data-layer=grain]');
          const out = await page.pdf({ preferCSSPageSize: true, printBackground: true });
          return out;
        });
        fs.writeFileSync(path.join(SHOTS, `${job}-${paper}.pdf`), bytes);
        const pdf = await getDocument({ data: new Uint8Array(bytes), isEvalSupported: false, verbosity: 0 }).promise;
        const pages = [];
        const heaps = [];
        for (let n = 1; n <= pdf.numPages; n += 1) {
          const page = await pdf.getPage(n);
          const [x0, y0, x1, y1] = page.view;
          // Printers' points are rounded to a device's dots; a millimetre is 2.8 of them.
          assert.ok(Math.abs(x1 - x0 - size[0]) < 1.5 && Math.abs(y1 - y0 - size[1]) < 1.5, `page ${n}: ${page.view}`);
          const { items } = await page.getTextContent();
          pages.push(items.map(i => i.str).join(' ').replace(/\s+/g, ' '));
          heaps.push(...overprinted(items).map(pair => `page ${n}: ${pair}`));
        }
        const starts = n => pages.map((words, i) => [words, i]).filter(([words]) => words.includes(`Slab ${n} of ${facts.slabs}:`)).map(p => p[1]);
        let last = -1;
        for (let n = 1; n <= facts.slabs; n += 1) {
          const at = starts(n);
          assert.equal(at.length, 1, `slab ${n}`);
          assert.ok(at[0] > last, `slab ${n} begins a page`);
          assert.ok(pages[at[0]].trim().startsWith(`Slab ${n}`), `slab ${n} stands at the head of its page`);
          last = at[0];
        }
        assert.deepEqual(heaps, [], 'words lie on words');
        // A slab with its tables takes one page; where they are long the drawing has one to itself.
        const first = starts(1)[0];
        const end = pages.findIndex(words => /^\s*(Openings|Cut list)\b/.test(words));
        if (facts.long) {
          assert.ok(end - first > facts.slabs && !pages[first].includes('P from B'), 'the tables follow the drawing');
        } else {
          assert.equal(end - first, facts.slabs, 'a page for each slab');
        }
        assert.ok(pages.some(words => words.trim().startsWith('Labels')), 'labels');
        assert.ok(!pages.some(words => words.includes('Drag to move')), 'what is for the screen is not printed');
      });
    }
  });
}
