"use strict";
document.documentElement.classList.add("scripted");

const all = (selector, root = document) => Array.from(root.querySelectorAll(selector));
const hold = (value, low, high) => Math.min(high, Math.max(low, value));

// Wipe: the edge follows the pointer (a finger must drag) and the arrow keys.
const wipeTo = (wipe, percent) => {
  const at = Math.round(hold(percent, 0, 100));
  const handle = wipe.querySelector("[role=slider]");
  wipe.style.setProperty("--at", `${at}%`);
  handle.setAttribute("aria-valuenow", at);
  handle.setAttribute("aria-valuetext", `${at} % ${wipe.dataset.first}, the rest ${wipe.dataset.second}`);
};
for (const wipe of all(".wipe")) {
  const handle = wipe.querySelector("[role=slider]");
  const follow = (event) => {
    const box = wipe.getBoundingClientRect();
    wipeTo(wipe, (100 * (event.clientX - box.left)) / box.width);
  };
  wipe.addEventListener("pointermove", follow);
  wipe.addEventListener("pointerdown", follow);
  handle.addEventListener("keydown", (event) => {
    const now = Number(handle.getAttribute("aria-valuenow"));
    const steps = { ArrowLeft: -2, ArrowDown: -2, ArrowRight: 2, ArrowUp: 2, PageDown: -10, PageUp: 10 };
    if (event.key in steps) wipeTo(wipe, now + steps[event.key]);
    else if (event.key === "Home") wipeTo(wipe, 0);
    else if (event.key === "End") wipeTo(wipe, 100);
    else return;
    event.preventDefault();
  });
}

// The same thing in both: a strip that is pressed comes under the wipe; a flip shows one whole, then the other.
// Changes are never closer than this, so that nothing flashes more than three times a second.
const SHORTEST = 350;
for (const same of all(".same:has(.stage)")) {
  const wipe = same.querySelector(".stage .wipe");
  const said = same.querySelector(".on-show");
  const asShot = same.querySelector(".as-shot");
  const matched = wipe.dataset.second;
  const order = same.querySelector(".tiles").dataset.states.split(",");
  const show = (at) => {
    const { first, second } = wipe.dataset;
    said.textContent = at === 100 ? `${first} alone` : at === 0 ? `${second} alone` : `${first} left, ${second} right`;
  };
  const view = () => {
    const side = Number(wipe.dataset.side);
    for (const [svg, state] of [[wipe.children[0], wipe.dataset.first], [wipe.children[1], wipe.dataset.second]]) {
      svg.setAttribute("viewBox", `${order.indexOf(state) * side} 0 ${side} ${side}`);
      svg.setAttribute("aria-label", `${same.querySelector(".stage-name").textContent}, ${state}`);
    }
    show(Number(wipe.querySelector("[role=slider]").getAttribute("aria-valuenow")));
  };
  const choose = (tile) => {
    for (const one of all(".tile", same)) one.setAttribute("aria-pressed", String(one === tile));
    for (const use of all("use", wipe)) {
      use.setAttribute("href", `#${tile.dataset.picture}${use.classList.contains("look") ? "-look" : ""}`);
    }
    same.querySelector(".stage-name").textContent = tile.dataset.name;
    same.querySelector(".stage-note").textContent = tile.dataset.note;
    view();
  };
  for (const tile of all(".tile", same)) tile.addEventListener("click", () => choose(tile));
  wipe.addEventListener("pointermove", view);
  wipe.addEventListener("keydown", view);
  let last = -SHORTEST;
  same.querySelector(".flip").addEventListener("click", () => {
    const now = performance.now();
    if (now - last < SHORTEST) return;
    last = now;
    wipeTo(wipe, wipe.querySelector("[role=slider]").getAttribute("aria-valuenow") === "100" ? 0 : 100);
    view();
  });
  if (asShot) {
    asShot.addEventListener("click", () => {
      const on = asShot.getAttribute("aria-pressed") !== "true";
      asShot.setAttribute("aria-pressed", String(on));
      wipe.dataset.second = on ? "as shot" : matched;
      wipeTo(wipe, Number(wipe.querySelector("[role=slider]").getAttribute("aria-valuenow")));
      view();
    });
  }
  const follow = () => {
    const tile = location.hash && same.querySelector(`[id="${CSS.escape(location.hash.slice(1))}"] .tile`);
    if (!tile) return;
    choose(tile);
    // It lies large at the top of its angle, under the verdict.
    same.closest(".angle").scrollIntoView();
  };
  window.addEventListener("hashchange", follow);
  follow();
}

// A whole picture that is pressed takes the row's width; pressed again, its own.
for (const button of all(".larger")) {
  button.addEventListener("click", () => {
    button.setAttribute("aria-pressed", String(button.closest("figure").classList.toggle("large")));
  });
}

// Cut check: never by itself, and never two changes within a second, however often a button is pressed.
const PAUSE = 1000;
const still = window.matchMedia("(prefers-reduced-motion: reduce)");
for (const figure of all("figure:has(.cut)")) {
  const stage = figure.querySelector(".cut");
  const once = figure.querySelector(".cut-once");
  const keep = figure.querySelector(".cut-on");
  const onAir = figure.querySelector(".on-air");
  let last = -PAUSE;
  let timer = 0;
  const cut = () => {
    const now = performance.now();
    if (now - last < PAUSE) return;
    last = now;
    const second = stage.classList.toggle("on-second");
    onAir.textContent = second ? stage.dataset.second : stage.dataset.first;
  };
  const stop = () => {
    clearInterval(timer);
    timer = 0;
    keep.setAttribute("aria-pressed", "false");
    onAir.setAttribute("aria-live", "polite");
  };
  once.addEventListener("click", () => { stop(); cut(); });
  keep.addEventListener("click", () => {
    if (timer) return stop();
    keep.setAttribute("aria-pressed", "true");
    onAir.setAttribute("aria-live", "off");
    cut();
    timer = setInterval(cut, PAUSE + 200);
  });
  const calm = () => { keep.hidden = still.matches; if (still.matches) stop(); };
  still.addEventListener("change", calm);
  calm();
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop(); });
  new IntersectionObserver((seen) => { if (!seen[0].isIntersecting) stop(); }).observe(stage);
}

// In motion: the pictures of each camera lie below one another, and what is seen of them moves down. Never by itself.
for (const figure of all(".motion")) {
  const parts = all("svg svg", figure);
  const at = figure.querySelector(".at");
  const play = figure.querySelector(".play");
  const said = at.dataset.said.split("|");
  let timer = 0;
  const show = () => {
    const now = Number(at.value);
    for (const part of parts) {
      const { width, height } = part.viewBox.baseVal;
      part.setAttribute("viewBox", `0 ${now * height} ${width} ${height}`);
    }
    figure.querySelector(".when").textContent = said[now];
    at.setAttribute("aria-valuetext", said[now]);
  };
  const stop = () => {
    clearInterval(timer);
    timer = 0;
    play.setAttribute("aria-pressed", "false");
  };
  const next = () => {
    at.value = (Number(at.value) + 1) % said.length;
    show();
  };
  play.addEventListener("click", () => {
    if (timer) return stop();
    play.setAttribute("aria-pressed", "true");
    timer = setInterval(next, 1000 / Number(figure.dataset.rate));
  });
  at.addEventListener("input", () => { stop(); show(); });
  const calm = () => { play.hidden = still.matches; if (still.matches) stop(); };
  still.addEventListener("change", calm);
  calm();
  show();
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop(); });
  new IntersectionObserver((seen) => { if (!seen[0].isIntersecting) stop(); }).observe(figure);
}

for (const box of all(".look-switch")) {
  const show = () => document.documentElement.classList.toggle("under-look", box.checked);
  box.addEventListener("change", show);
  show();
}

for (const box of all(".luminance")) {
  box.addEventListener("change", () => box.closest(".angle").classList.toggle("luminance-on", box.checked));
}

for (const choice of all(".part")) {
  choice.addEventListener("change", () => {
    for (const group of all(".samples-on [data-part]", choice.closest(".angle"))) {
      group.classList.toggle("out", group.dataset.part === choice.value);
    }
  });
}

// Picker: one rectangle a surface, kept in fractions of the picture as drawn here.
const picker = document.querySelector(".picker");
if (picker) {
  const surfaces = all(".surface", picker).map((figure) => ({
    figure,
    role: figure.dataset.role,
    name: figure.dataset.name,
    crop: figure.dataset.crop.split(" ").map(Number),
    pad: figure.querySelector(".pad"),
    drawing: figure.querySelector("svg"),
    inputs: all("[data-edge]", figure),
    area: null,
    at: [0.5, 0.5],
    zoom: 1,
    whole: figure.querySelector("svg").getAttribute("viewBox").split(" ").map(Number),
  }));
  const kept = [];
  const angle = picker.querySelector(".pick-angle");
  const name = picker.querySelector(".pair-name");
  const lines = picker.querySelector("#toml");
  const said = picker.querySelector(".said");
  const kind = () => picker.querySelector("[name=kind]:checked").value;

  // Basic strings of TOML 1.0: JSON escapes the same characters, but for DEL.
  const quoted = (text) => JSON.stringify(text).replace(/\u007f/g, "\\u007F");
  const key = (text) => (/^[A-Za-z0-9_-]+$/.test(text) ? text : quoted(text));
  const numbers = ({ area, crop: [left, top, right, bottom] }) => {
    const wide = 1 - left - right;
    const high = 1 - top - bottom;
    const frame = [left + area[0] * wide, top + area[1] * high, left + area[2] * wide, top + area[3] * high];
    return `[${frame.map((value) => value.toFixed(4)).join(", ")}]`;
  };

  const now = () => {
    const hero = surfaces.find((one) => one.role === "hero");
    const other = surfaces.find((one) => one.role === "angle" && one.name === angle.value);
    if (kind() !== "pair") {
      return [hero, other].filter((one) => one.area)
        .map((one) => `[[${kind()}]]\nangle = ${quoted(one.name)}\narea = ${numbers(one)}\n`).join("\n");
    }
    if (!hero.area || !other.area) return "";
    return `[[pair]]\nname = ${quoted(name.value)}\nhero = ${numbers(hero)}\n${key(other.name)} = ${numbers(other)}\n`;
  };

  const wishes = { least_error_on: picker.querySelector(".first"), keep_as_shot: picker.querySelector(".stays") };
  const stayLine = picker.querySelector("#stay-line");
  // What the setup file wishes already stands in the lines too: a key may stand in a table once.
  const already = JSON.parse(stayLine.dataset.names);
  const wished = (wish) => (kind() === "pair" && wishes[wish].checked ? [name.value] : []);
  const write = () => {
    name.disabled = kind() !== "pair";
    for (const box of Object.values(wishes)) box.disabled = name.disabled;
    const text = now();
    stayLine.value = Object.keys(wishes).map((wish) => {
      const names = [...new Set([...already[wish], ...kept.flatMap((one) => one.wished[wish]), ...(text ? wished(wish) : [])])];
      return names.length > already[wish].length ? `${wish} = [${names.map(quoted).join(", ")}]` : "";
    }).filter(Boolean).join("\n");
    stayLine.closest(".stay").hidden = !stayLine.value;
    lines.value = [...kept.map((one) => one.text), text].filter(Boolean).join("\n");
    const wanted = kind() === "pair" ? "Mark an area on both pictures." : "Mark an area on either picture.";
    said.textContent = text || kept.length ? `${kept.length} kept.` : wanted;
  };

  const draw = (one) => {
    const [x0, y0, x1, y1] = one.area || [0, 0, 0, 0];
    const [, , width, height] = one.whole;
    for (const box of all(".chosen, .chosen-halo", one.drawing)) {
      box.setAttribute("x", x0 * width);
      box.setAttribute("y", y0 * height);
      box.setAttribute("width", (x1 - x0) * width);
      box.setAttribute("height", (y1 - y0) * height);
    }
    one.inputs.forEach((input, edge) => {
      if (input !== document.activeElement) input.value = one.area ? (100 * one.area[edge]).toFixed(1) : "";
    });
    write();
  };

  for (const one of surfaces) {
    let start = null;
    const place = (event) => {
      // A tall picture does not fill its box, so the drawing itself says where the pointer is.
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(one.drawing.getScreenCTM().inverse());
      const [, , width, height] = one.whole;
      return [hold(at.x / width, 0, 1), hold(at.y / height, 0, 1)];
    };
    // Closer: about the area, or about the place that was clicked last.
    const zoom = (factor) => {
      one.zoom = hold(one.zoom * factor, 1, 8);
      const [, , width, height] = one.whole;
      const [x0, y0, x1, y1] = one.area || [...one.at, ...one.at];
      const share = 1 / one.zoom;
      const left = hold((x0 + x1) / 2 - share / 2, 0, 1 - share);
      const top = hold((y0 + y1) / 2 - share / 2, 0, 1 - share);
      one.drawing.setAttribute("viewBox", [left * width, top * height, share * width, share * height].join(" "));
    };
    one.figure.querySelector(".closer-by").addEventListener("click", () => zoom(2));
    one.figure.querySelector(".whole").addEventListener("click", () => zoom(0.01));
    one.pad.addEventListener("pointerdown", (event) => {
      start = place(event);
      one.at = start;
      one.pad.setPointerCapture(event.pointerId);
      one.pad.focus({ preventScroll: true });
      event.preventDefault();
    });
    one.pad.addEventListener("pointermove", (event) => {
      if (!start) return;
      const end = place(event);
      one.area = [Math.min(start[0], end[0]), Math.min(start[1], end[1]), Math.max(start[0], end[0]), Math.max(start[1], end[1])];
      draw(one);
    });
    const release = () => {
      start = null;
      // A click without a drag, or a line, is no area.
      if (one.area && (one.area[2] - one.area[0] < 0.002 || one.area[3] - one.area[1] < 0.002)) one.area = null;
      draw(one);
    };
    one.pad.addEventListener("pointerup", release);
    one.pad.addEventListener("pointercancel", release);
    one.pad.addEventListener("keydown", (event) => {
      const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      if (event.key === "Delete" || event.key === "Backspace") one.area = null;
      else if (event.key === "+" || event.key === "-") zoom(event.key === "+" ? 2 : 0.5);
      else if (event.key in moves) {
        const [x0, y0, x1, y1] = one.area || [0.45, 0.45, 0.55, 0.55];
        const [dx, dy] = moves[event.key].map((step) => (step * 0.01) / one.zoom);
        if (event.shiftKey) one.area = [x0, y0, hold(x1 + dx, x0 + 0.01, 1), hold(y1 + dy, y0 + 0.01, 1)];
        else {
          const mx = hold(dx, -x0, 1 - x1);
          const my = hold(dy, -y0, 1 - y1);
          one.area = [x0 + mx, y0 + my, x1 + mx, y1 + my];
        }
      } else return;
      event.preventDefault();
      draw(one);
    });
    for (const input of one.inputs) {
      input.addEventListener("input", () => {
        const area = one.inputs.map((field) => hold(Number(field.value) / 100, 0, 1));
        one.area = area[2] > area[0] && area[3] > area[1] ? area : null;
        draw(one);
      });
    }
  }

  const choose = () => {
    for (const one of surfaces) one.figure.hidden = one.role === "angle" && one.name !== angle.value;
    write();
  };
  // What is kept stays on its pictures; the next area begins afresh.
  picker.querySelector(".keep").addEventListener("click", () => {
    const text = now();
    if (!text) return;
    const drawn = surfaces.filter((one) => one.area && !one.figure.hidden).map((one) => {
      const [x0, y0, x1, y1] = one.area;
      const [, , width, height] = one.whole;
      const box = document.createElementNS(one.drawing.namespaceURI, "rect");
      const sizes = { x: x0 * width, y: y0 * height, width: (x1 - x0) * width, height: (y1 - y0) * height, class: "known" };
      for (const [attribute, value] of Object.entries(sizes)) box.setAttribute(attribute, value);
      one.drawing.querySelector(".added").append(box);
      one.area = null;
      return box;
    });
    kept.push({ text, drawn, wished: Object.fromEntries(Object.keys(wishes).map((wish) => [wish, wished(wish)])) });
    for (const box of Object.values(wishes)) box.checked = false;
    for (const one of surfaces) draw(one);
  });
  picker.querySelector(".drop").addEventListener("click", () => {
    const last = kept.pop();
    if (last) for (const box of last.drawn) box.remove();
    write();
  });
  angle.addEventListener("change", choose);
  name.addEventListener("input", write);
  for (const box of Object.values(wishes)) {
    box.addEventListener("change", () => {
      // One surface cannot match best and stay as it is.
      if (box.checked) for (const other of Object.values(wishes)) other.checked = other === box;
      write();
    });
  }
  for (const radio of all("[name=kind]", picker)) radio.addEventListener("change", write);
  picker.querySelector(".copy").addEventListener("click", () => {
    lines.select();
    // The asynchronous clipboard is refused to some pages that are opened from disk; the old way is not.
    said.textContent = lines.value && document.execCommand("copy") ? "Copied." : "Nothing to copy yet.";
  });
  choose();
}
