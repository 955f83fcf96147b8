// The glass that follows pointer and arrow keys, keys of the piece, codes that are told without leaving the piece, and
// lanes and stacks of which any place tells its piece.
// Everything here has a way without it: links, and a form with a button.
"use strict";
document.documentElement.classList.add("js");

const at = { x: null, y: null };
let asked = false, again = false;

const sheet = () => document.querySelector("#stage svg.sheet");
const clamp = (value, most) => Math.min(most, Math.max(0, Math.round(value)));

function size(svg) {
  const box = svg.viewBox.baseVal;
  return [box.width, box.height];
}

// Where the glass lies before it is moved: the middle, or the place that was asked for.
function start(svg) {
  return [Number(svg.dataset.x), Number(svg.dataset.y)];
}

function look() {
  const svg = sheet(), glass = document.getElementById("glass");
  if (!svg || !glass) return;
  const [wide, high] = size(svg), side = Number(document.getElementById("stage").dataset.glass);
  const [startx, starty] = start(svg);
  at.x = clamp(at.x === null ? startx : at.x, wide);
  at.y = clamp(at.y === null ? starty : at.y, high);
  const under = document.getElementById("under");
  under.setAttribute("x", at.x - side / 2);
  under.setAttribute("y", at.y - side / 2);
  const dpi = Number(svg.dataset.dpi), mm = (dots) => (dots / dpi * 25.4).toFixed(2);
  document.getElementById("at").textContent =
    `${side} × ${side} dots around ${mm(at.x)} mm across, ${mm(at.y)} mm down (dot ${at.x}, ${at.y})`;
  const fields = { pinx: mm(at.x), piny: mm(at.y), pinside: svg.dataset.side };
  for (const [name, value] of Object.entries(fields)) {
    const one = document.getElementById(name);
    if (one) one.value = value;
  }
  if (asked) { again = true; return; }
  asked = true;
  const next = new Image();
  next.onload = next.onerror = () => {
    asked = false;
    if (next.naturalWidth) {
      glass.src = next.src;
      glass.alt = `Dots of the press around ${mm(at.x)} mm across, ${mm(at.y)} mm down`;
    }
    if (again) { again = false; look(); }
  };
  next.src = `${svg.dataset.dots}&x=${at.x}&y=${at.y}`;
}

function point(event) {
  const svg = event.target.closest("#stage svg.sheet");
  if (!svg) return;
  const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  at.x = place.x; at.y = place.y;
  look();
}

function press(selector) {
  const box = document.querySelector(selector);
  if (box) box.click();
}

// A pile is a lane or a stack: its nth place, from above, stands for a frame or a piece.
let chosen = null, telling = false, more = false;

function place(pile, nth) {
  const { first, step, places, live, name, query } = pile.dataset;
  const at = clamp(nth, Number(places) - 1), value = Number(first) + Number(step) * at;
  if (chosen && chosen !== pile) chosen.classList.remove("chosen");
  chosen = pile;
  pile.classList.add("chosen");
  pile.dataset.at = at;
  pile.setAttribute("aria-valuenow", value);
  pile.setAttribute("aria-valuetext", `${name} ${value}`);
  const ground = pile.querySelector(".ground"), cut = pile.querySelector(".cut");
  const y = Number(ground.getAttribute("y")) + Number(ground.getAttribute("height")) * (at + .5) / Number(places);
  cut.setAttribute("y1", y);
  cut.setAttribute("y2", y);
  pile.dataset.asks = `${pile.closest(".piles").dataset.told}?${query ? query + "&" : ""}${name}=${at < Number(live) ? value : 0}`;
  tell();
}

function tell() {
  if (telling) { more = true; return; }
  telling = true;
  const pile = chosen;
  htmx.ajax("GET", pile.dataset.asks, "#told").finally(() => {
    telling = false;
    const head = document.querySelector("#told h2");
    if (head) pile.setAttribute("aria-valuetext", `${pile.dataset.name} ${pile.getAttribute("aria-valuenow")}: ${head.textContent}`);
    if (more) { more = false; tell(); }
  });
}

function piled(event) {
  const pile = event.target.closest(".pile");
  if (!pile) return;
  const box = pile.querySelector(".ground").getBoundingClientRect(), places = Number(pile.dataset.places);
  place(pile, Math.floor((event.clientY - box.top) / box.height * places));
}

function walked(event) {
  const pile = event.target.closest && event.target.closest(".pile");
  if (!pile || event.ctrlKey || event.altKey || event.metaKey) return;
  const at = pile.dataset.at === undefined ? -1 : Number(pile.dataset.at), places = Number(pile.dataset.places);
  const far = Math.max(2, Math.round(places / 10)), all = [...pile.closest(".piles").querySelectorAll(".pile")];
  const to = { ArrowDown: at + 1, ArrowUp: at - 1, PageDown: at + far, PageUp: at - far, Home: 0, End: places - 1 };
  const beside = { ArrowRight: 1, ArrowLeft: -1 };
  if (event.key in to) place(pile, to[event.key]);
  else if (event.key in beside) {
    const next = all[all.indexOf(pile) + beside[event.key]];
    if (next) { next.focus(); place(next, Math.max(0, at)); }
  } else if (event.key === "Enter") {
    const link = document.querySelector("#told a.button");
    if (link && pile === chosen) link.click();
  } else return;
  event.preventDefault();
}

document.addEventListener("keydown", walked);
document.addEventListener("pointermove", (event) => { if (event.pointerType !== "touch" && event.target.closest) point(event); });
document.addEventListener("click", (event) => {
  const code = event.target.closest("a[data-said]");
  if (code) {
    event.preventDefault();
    document.querySelectorAll("a.chosen").forEach((one) => one.classList.remove("chosen"));
    code.classList.add("chosen");
    htmx.ajax("GET", code.getAttribute("href"), "#said");
  }
  if (event.target.closest) { point(event); piled(event); }
});

document.addEventListener("keydown", (event) => {
  const stage = event.target.closest && event.target.closest("#stage"), svg = sheet();
  if (!stage || !svg || event.ctrlKey || event.altKey || event.metaKey) return;
  const step = event.shiftKey ? 100 : 10;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  if (event.key in moves) {
    const [wide, high] = size(svg);
    const [startx, starty] = start(svg);
    at.x = clamp((at.x === null ? startx : at.x) + moves[event.key][0], wide);
    at.y = clamp((at.y === null ? starty : at.y) + moves[event.key][1], high);
    look();
  } else if (event.key === "f") press("input[name=side]:not(:checked)");
  else if (event.key === "u") press("input[name=lamp]");
  else if (/^[1-9]$/.test(event.key)) press(`input[name=p][value="${Number(event.key) - 1}"]`);
  else return;
  event.preventDefault();
});

document.addEventListener("htmx:afterSwap", (event) => { if (event.target.id === "stage") look(); });
