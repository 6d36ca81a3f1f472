// Opens the report's pages in a real browser, uses them as a person would, and prints what happened as JSON.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { join } from "node:path";

const modules = process.env.HUEMEND_NODE_MODULES;
const require = createRequire(join(modules, "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(join(modules, "axe-core", "axe.min.js"), "utf8");
const folder = process.argv[2];

const browser = await chromium.launch({
  executablePath: process.env.HUEMEND_CHROMIUM,
  args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"],
});
const seen = { console: [], requests: [], layout: [], axe: [] };

async function open(name, { width = 1280, height = 900, scheme = "light", motion = "no-preference", script = true } = {}) {
  const context = await browser.newContext({
    viewport: { width, height }, colorScheme: scheme, reducedMotion: motion, javaScriptEnabled: script,
  });
  const page = await context.newPage();
  page.on("console", (line) => seen.console.push(`${name}: ${line.type()} ${line.text()}`));
  page.on("pageerror", (error) => seen.console.push(`${name}: ${error.message}`));
  page.on("request", (request) => {
    const url = request.url();
    const own = url === `file://${join(folder, `${name}.html`)}`;
    if (!own && !url.startsWith("data:")) seen.requests.push(`${name}: ${url}`);
  });
  await page.goto(`file://${join(folder, `${name}.html`)}`);
  page.done = () => context.close();
  return page;
}

// Every page at three widths, light and dark: does it fit, and is it accessible?
const NARROW = [390, "light"], DARK = [820, "dark"], WIDE = [1440, "light"];
// Colours are those of one style sheet: in the dark, pages that show every mark and state between them are enough.
const SEEN_IN_THE_DARK = ["report", "look", "unsolved", "day"];
async function layout() {
  for (const name of ["report", "look", "summary", "unsolved", "awkward", "plain", "three", "day"]) {
    const page = await open(name);
    const turn = async ([width, scheme]) => {
      await page.setViewportSize({ width, height: 900 });
      await page.emulateMedia({ colorScheme: scheme });
    };
    for (const [width, scheme] of [NARROW, DARK, WIDE]) {
      await turn([width, scheme]);
      const found = await page.evaluate(() => {
        const box = document.querySelector(".scroll:has(> .verdicts)");
        return {
          over: document.documentElement.scrollWidth - window.innerWidth,
          sideways: box ? box.scrollWidth - box.clientWidth : 0,
          broken: Array.from(document.querySelectorAll("use"))
            .filter((use) => !document.querySelector(use.getAttribute("href"))).length,
          height: document.documentElement.scrollHeight,
          saved: document.querySelector(".saved").textContent,
        };
      });
      seen.layout.push({ name, width, scheme, ...found });
    }
    // Folded away, a fault would stay unseen.
    await unfold(page);
    await turn([320, "light"]);
    const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    seen.layout.push({ name: `${name}, unfolded`, width: 320, scheme: "light", over, sideways: 0, broken: 0 });
    // The page's own policy forbids scripts, and rightly so; the browser's debugging channel stands above it.
    await page.evaluate(axe);
    for (const [width, scheme] of SEEN_IN_THE_DARK.includes(name) ? [NARROW, DARK] : [NARROW]) {
      await turn([width, scheme]);
      const found = await page.evaluate(() => window.axe.run());
      for (const { id, impact, nodes } of found.violations) {
        seen.axe.push({ name, width, scheme, id, impact, where: nodes.slice(0, 3).map((node) => node.html.slice(0, 160)) });
      }
    }
    await page.done();
  }
}

// The top: what one screen holds, how long the page is as it opens, and one click to what to look at again.
async function top() {
  const page = await open("report", { height: 800 });
  const tiles = page.locator(".tiles li");
  const box = await tiles.first().locator(".tile").boundingBox();
  const table = await page.locator("table.verdicts").boundingBox();
  seen.top = {
    first: box.y + box.height,
    table: table.y + table.height,
    height: await page.evaluate(() => document.documentElement.scrollHeight),
    tiles: await page.locator(".same").evaluateAll((all) => all.map((one) => one.querySelectorAll(".tile").length)),
  };
  await page.done();
  const off = await open("off", { height: 800 });
  const again = off.locator(".again a");
  seen.again = { count: await again.count(), href: await again.first().getAttribute("href") };
  await again.first().click();
  // The page follows the address, which changes a moment after the click.
  await off.locator(`${seen.again.href} .tile[aria-pressed=true]`).waitFor({ timeout: 5000 }).catch(() => {});
  seen.again.chosen = await off.locator(`${seen.again.href} .tile`).getAttribute("aria-pressed");
  // What was chosen lies large, under the name of its angle.
  seen.again.inView = await off.locator(`.angle:has(${seen.again.href})`).evaluate((one) =>
    [one.querySelector("h2"), one.querySelector(".stage")].every((part) => {
      const { top, bottom } = part.getBoundingClientRect();
      return top >= -1 && bottom <= window.innerHeight;
    }));
  await off.done();
}

// The same thing in both: by keyboard alone, a strip comes under the wipe; a flip shows the hero, then the match.
async function sameThing() {
  const page = await open("report");
  const same = page.locator(".same").first();
  const stage = same.locator(".stage");
  const boxes = () => stage.locator(".wipe svg").evaluateAll((all) => all.map((one) => [
    one.getAttribute("viewBox"), one.getAttribute("aria-label"), one.querySelector("use").getAttribute("href"),
  ]));
  seen.same = { start: await boxes() };
  await same.locator(".tile").nth(1).focus();
  await page.keyboard.press("Enter");
  seen.same.second = await boxes();
  seen.same.picture = await same.locator(".tile").nth(1).getAttribute("data-picture");
  seen.same.pressed = await same.locator(".tile").evaluateAll((all) => all.map((one) => one.getAttribute("aria-pressed")));
  const slider = stage.getByRole("slider");
  await slider.focus();
  await page.keyboard.press("End");
  seen.same.hero = [await slider.getAttribute("aria-valuetext"), await stage.getByRole("status").textContent()];
  await page.evaluate(() => {
    window.flips = [];
    const wipe = document.querySelector(".stage .wipe");
    new MutationObserver(() => window.flips.push(performance.now())).observe(wipe, { attributes: true, attributeFilter: ["style"] });
  });
  const flip = stage.getByRole("button", { name: "Flip" });
  for (let n = 0; n < 8; n += 1) {
    await flip.click();
    await page.waitForTimeout(100);
  }
  await page.waitForTimeout(500);
  const flips = await page.evaluate(() => window.flips);
  seen.same.gaps = flips.slice(1).map((at, n) => at - flips[n]);
  await flip.click();
  seen.same.flipped = await stage.getByRole("status").textContent();
  await stage.getByRole("button", { name: "As shot" }).click();
  seen.same.asShot = await boxes();
  await page.done();
}

// Under a look, by the Tab key alone: the switch, a strip, the wipe and the flip are reached, seen and work.
async function underLook() {
  const page = await open("look");
  const under = () => page.evaluate(() => ({
    on: document.documentElement.classList.contains("under-look"),
    shown: Array.from(document.querySelectorAll(".stage .wipe use"))
      .filter((use) => getComputedStyle(use).display !== "none").map((use) => use.getAttribute("href")),
  }));
  seen.look = { opens: await under(), reached: [], unseen: [] };
  const wanted = ["look-switch", "tile", "edge-handle", "flip"];
  for (let n = 0; n < 60 && seen.look.reached.length < wanted.length; n += 1) {
    await page.keyboard.press("Tab");
    const [kind, outlined] = await page.evaluate((names) => {
      const at = document.activeElement;
      const style = getComputedStyle(at);
      return [names.find((name) => at.classList.contains(name)), style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 1];
    }, wanted);
    if (!outlined) seen.look.unseen.push(await page.evaluate(() => document.activeElement.outerHTML.slice(0, 120)));
    if (!kind || seen.look.reached.includes(kind)) continue;
    seen.look.reached.push(kind);
    if (kind === "look-switch") {
      await page.keyboard.press("Space");
      seen.look.plain = await under();
      await page.keyboard.press("Space");
    } else if (kind === "edge-handle") {
      await page.keyboard.press("End");
      seen.look.hero = await page.evaluate(() => document.activeElement.getAttribute("aria-valuetext"));
    } else if (kind === "flip") {
      await page.keyboard.press("Enter");
      seen.look.flipped = await page.locator(".stage [role=status]").first().textContent();
    } else if (kind === "tile") {
      await page.keyboard.press("Enter");
      seen.look.strip = await under();
      seen.look.picture = await page.evaluate(() => document.activeElement.dataset.picture);
    }
  }
  await page.done();
}

// Everything else is folded away until somebody asks.
const unfold = (page) => page.evaluate(() => {
  for (const fold of document.querySelectorAll("details")) fold.open = true;
});

// The wipe, by pointer and keyboard.
async function wipeAndCuts() {
  const page = await open("report");
  seen.folded = await page.locator("details[open]").count();
  await unfold(page);
  const wipe = page.locator(".checks .wipe").first();
  const slider = wipe.getByRole("slider");
  const now = async () => Number(await slider.getAttribute("aria-valuenow"));
  seen.wipe = { start: await now() };
  await wipe.scrollIntoViewIfNeeded();
  const box = await wipe.boundingBox();
  await page.mouse.move(box.x + box.width * 0.25, box.y + box.height / 2);
  seen.wipe.pointer = await now();
  seen.wipe.clip = await wipe.locator(".over").evaluate((over) => getComputedStyle(over).clipPath);
  await slider.focus();
  for (const key of ["ArrowRight", "ArrowLeft", "PageUp", "Home", "End"]) {
    await page.keyboard.press(key);
    seen.wipe[key] = await now();
  }
  seen.wipe.text = await slider.getAttribute("aria-valuetext");

  // The cut check: still until asked, and never faster than once a second.
  await page.evaluate(() => {
    window.cuts = [];
    const stage = document.querySelector(".cut");
    new MutationObserver(() => window.cuts.push(performance.now())).observe(stage, { attributes: true, attributeFilter: ["class"] });
  });
  const figure = page.locator("figure:has(.cut)").first();
  await figure.scrollIntoViewIfNeeded();
  await page.waitForTimeout(1500);
  seen.cut = { unasked: await page.evaluate(() => window.cuts.length) };
  const once = figure.getByRole("button", { name: "Cut", exact: true });
  const keep = figure.getByRole("button", { name: "Keep cutting" });
  // Within one task of the page: on a busy machine six clicks from here would take longer than a second.
  await once.evaluate((button) => { for (let n = 0; n < 6; n += 1) button.click(); });
  seen.cut.second = await figure.locator(".second").evaluate((e) => getComputedStyle(e).visibility);
  seen.cut.said = await figure.getByRole("status").textContent();
  seen.cut.hurried = await page.evaluate(() => window.cuts.length);
  await page.waitForTimeout(1100);
  await keep.focus();
  await page.keyboard.press("Enter");
  seen.cut.pressed = await keep.getAttribute("aria-pressed");
  await page.waitForTimeout(4000);
  await page.keyboard.press("Enter");
  const stopped = await page.evaluate(() => window.cuts.length);
  await page.waitForTimeout(1500);
  seen.cut.afterStop = (await page.evaluate(() => window.cuts.length)) - stopped;
  const cuts = await page.evaluate(() => window.cuts);
  seen.cut.gaps = cuts.slice(1).map((at, n) => at - cuts[n]);

  // A whole picture takes the page's width at the press of a key, and its own again.
  const larger = page.locator(".angle .row:not(.on-paper) .larger").first();
  const across = async () => (await larger.boundingBox()).width;
  seen.larger = { row: await page.locator(".angle .row:not(.on-paper)").first().evaluate((row) => row.clientWidth), start: await across() };
  await larger.focus();
  await page.keyboard.press("Enter");
  seen.larger.pressed = await across();
  await page.keyboard.press("Enter");
  seen.larger.back = await across();

  // Luminance, and the choice of the part held out.
  await page.locator(".luminance").first().check();
  // What the screen shows then: every pixel of the first picture is grey.
  seen.luminance = await page.locator(".angle").first().evaluate((angle) => {
    const use = angle.querySelector(".row:not(.on-paper) .picture use");
    return getComputedStyle(use).filter;
  });
  const shot = await page.locator(".angle .row:not(.on-paper) .picture").first().screenshot();
  seen.luminancePicture = shot.toString("base64");
  const part = page.locator(".part").first();
  const values = await part.locator("option").evaluateAll((all) => all.map((one) => one.value));
  await part.selectOption(values[1]);
  seen.part = {
    chosen: values[1],
    marked: await page.locator(".angle").first().locator(".samples .out").evaluateAll((all) => [...new Set(all.map((one) => one.dataset.part))]),
  };
  await page.done();
}
async function reducedMotion() {
  const page = await open("report", { motion: "reduce" });
  await unfold(page);
  seen.reduced = {
    keep: await page.locator(".cut-on").first().isVisible(),
    once: await page.locator(".cut-once").first().isVisible(),
  };
  await page.done();
}

// In motion: still until asked, by keyboard alone, and one picture at a time where the system asks for calm.
async function inMotion() {
  for (const motion of ["no-preference", "reduce"]) {
    const page = await open("look", { motion });
    await unfold(page);
    const figure = page.locator(".motion").first();
    await figure.scrollIntoViewIfNeeded();
    const views = () => figure.locator("svg svg").evaluateAll((all) => all.map((one) => one.getAttribute("viewBox")));
    const slider = figure.getByRole("slider");
    const out = { start: await views(), play: await figure.locator(".play").isVisible() };
    await page.waitForTimeout(600);
    out.unasked = await views();
    if (out.play) {
      await figure.locator(".play").focus();
      await page.keyboard.press("Enter");
      // A busy machine may take its time for the first picture.
      for (let n = 0; n < 50 && String((out.playing = await views())) === String(out.start); n += 1) {
        await page.waitForTimeout(100);
      }
      await page.keyboard.press("Enter");
      out.stopped = await views();
      await page.waitForTimeout(400);
      out.afterStop = await views();
    }
    await slider.focus();
    await page.keyboard.press("End");
    out.end = [await views(), await slider.getAttribute("aria-valuetext"), await figure.locator(".when").textContent()];
    await page.keyboard.press("ArrowLeft");
    out.back = await slider.getAttribute("aria-valuetext");
    seen[`motion ${motion}`] = out;
    await page.done();
  }
}

// The picker: by mouse, by keyboard, by numbers; pairs and areas to ignore.
async function drag(page, pad, from, to) {
  await pad.scrollIntoViewIfNeeded();
  const box = await pad.locator("svg").boundingBox();
  await page.mouse.move(box.x + box.width * from[0], box.y + box.height * from[1]);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.5, box.y + box.height * 0.5, { steps: 3 });
  await page.mouse.move(box.x + box.width * to[0], box.y + box.height * to[1], { steps: 3 });
  await page.mouse.up();
}
async function picker() {
  for (const name of ["report", "awkward"]) {
    const page = await open(name, { height: 1400 });
    await unfold(page);
    const picker = page.locator(".picker");
    const lines = picker.locator("#toml");
    const pads = picker.locator(".surface:visible .pad");
    const out = { names: await picker.locator(".surface").evaluateAll((all) => all.map((one) => one.dataset.name)) };
    out.empty = await lines.inputValue();
    await drag(page, pads.nth(0), [0.2, 0.3], [0.4, 0.6]);
    out.half = await lines.inputValue();
    await drag(page, pads.nth(1), [0.7, 0.8], [0.1, 0.25]);
    await picker.locator(".pair-name").fill('skin "Ada" \\ 1');
    out.mouse = await lines.inputValue();
    await picker.getByLabel("areas to leave out").check();
    out.ignore = await lines.inputValue();
    await picker.getByLabel("the same surface on both").check();

    // With the keyboard alone: clear, place, move, resize.
    await pads.nth(0).focus();
    await page.keyboard.press("Delete");
    out.cleared = await lines.inputValue();
    for (const key of ["ArrowRight", "ArrowDown", "Shift+ArrowRight", "Shift+ArrowUp"]) await page.keyboard.press(key);
    out.keyboard = await lines.inputValue();
    const numbers = picker.locator(".surface:visible").nth(1).getByRole("spinbutton");
    for (const [n, value] of ["10", "20", "30.5", "40"].entries()) await numbers.nth(n).fill(value);
    out.numbers = await lines.inputValue();
    await picker.locator(".pick-angle").selectOption("right");
    out.other = { lines: await lines.inputValue(), shown: await picker.locator(".surface:visible").evaluateAll((all) => all.map((one) => one.dataset.name)) };
    await pads.nth(1).click();
    out.click = await lines.inputValue();

    // Several of each: kept one after another, the last one dropped again; closer by button and by key.
    await picker.locator(".pick-angle").selectOption({ index: 0 });
    await drag(page, pads.nth(0), [0.2, 0.3], [0.4, 0.6]);
    await drag(page, pads.nth(1), [0.2, 0.3], [0.4, 0.6]);
    const keep = picker.getByRole("button", { name: "Keep, and mark another" });
    const stay = picker.locator("#stay-line");
    out.stayBefore = await stay.isVisible();
    await picker.getByLabel("comes first: the least error there").check();
    out.first = await stay.inputValue();
    await picker.getByLabel("stays as it was shot").check();
    out.stay = await stay.inputValue();
    await keep.click();
    out.stayKept = { line: await stay.inputValue(), seen: await stay.isVisible() };
    await picker.getByLabel("grey").check();
    await drag(page, pads.nth(0), [0.5, 0.5], [0.6, 0.7]);
    await keep.click();
    await drag(page, pads.nth(1), [0.1, 0.1], [0.2, 0.2]);
    await keep.click();
    out.several = await lines.inputValue();
    out.drawn = await picker.locator(".added .known").count();
    await picker.getByRole("button", { name: "Drop the last" }).click();
    out.fewer = await lines.inputValue();
    await pads.nth(0).locator("svg").click({ position: { x: 5, y: 5 } });
    await picker.getByRole("button", { name: "Closer on wide" }).click();
    await pads.nth(0).focus();
    await page.keyboard.press("+");
    out.close = await pads.nth(0).locator("svg").getAttribute("viewBox");
    await drag(page, pads.nth(0), [0.2, 0.4], [0.4, 0.8]);
    out.small = await lines.inputValue();
    await picker.getByRole("button", { name: "Whole picture of wide" }).click();
    out.whole = await pads.nth(0).locator("svg").getAttribute("viewBox");
    seen[`picker ${name}`] = out;
    await page.done();
  }
}

// On a phone the picker follows a finger.
async function phone() {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  const page = await context.newPage();
  await page.goto(`file://${join(folder, "report.html")}`);
  const wipe = page.locator(".wipe").first();
  await wipe.scrollIntoViewIfNeeded();
  const box = await wipe.boundingBox();
  await page.touchscreen.tap(box.x + box.width * 0.8, box.y + box.height / 2);
  seen.touch = Number(await wipe.getByRole("slider").getAttribute("aria-valuenow"));
  await context.close();
}

// Without JavaScript the pictures stay and the controls that would do nothing are away.
async function withoutScript() {
  const page = await open("report", { script: false });
  seen.noScript = {
    pictures: await page.locator(".row:not(.on-paper) .picture").count(),
    strips: await page.locator(".tiles .strip:visible").count(),
    controls: await page.locator(".needs-script:visible").count(),
    note: await page.locator("#picker summary").click().then(() => page.locator(".no-script").isVisible()),
  };
  await page.done();
}

async function paper() {
  for (const name of ["report", "summary", "unfolded"]) {
    const page = await open(name === "unfolded" ? "report" : name);
    if (name === "unfolded") await unfold(page);
    await page.pdf({ path: join(folder, `${name}.pdf`), preferCSSPageSize: true, printBackground: true });
    await page.done();
  }
}

// What waits for a timer waits beside what works.
await Promise.all([
  wipeAndCuts(),
  picker(),
  sameThing().then(top).then(reducedMotion).then(phone).then(withoutScript),
  underLook().then(inMotion),
]);
await layout();
await paper();
await browser.close();
console.log(JSON.stringify(seen));
